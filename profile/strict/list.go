package strict

import "gopkg.in/yaml.v3"

// Item is one entry of a list.
type Item struct {
	doc  *Doc
	node *yaml.Node
	key  string
}

// List reads the entries below a key. A missing or empty list has none; with
// Required that is a fault.
func (m *Map) List(key string, options ...Option) []Item {
	w := wants(options)
	_, v := m.find(key)
	if v == nil {
		m.missing(key, w, key+": and its entries below, each after a dash")
		return nil
	}
	if v.Kind == unreadable {
		m.broken[key] = true
		return nil
	}
	if v.Kind != yaml.SequenceNode {
		m.Refuse(key, kindOf(v)+" where a list belongs", "write each entry on a line of its own, after a dash")
		return nil
	}
	if len(v.Content) == 0 && w.required {
		m.Refuse(key, "the list is empty", "write at least one entry")
		return nil
	}
	items := make([]Item, len(v.Content))
	for i, n := range v.Content {
		items[i] = Item{m.doc, n, key}
	}
	return items
}

// Line is where the entry stands.
func (i Item) Line() int { return i.node.Line }

// Word is the entry's text when it is a bare word such as "- lift".
func (i Item) Word() (string, bool) {
	if i.node.Kind != yaml.ScalarNode || i.node.Tag == "!!null" {
		return "", false
	}
	return i.node.Value, true
}

// Map reads the entry as keys with values.
func (i Item) Map(known Keys) *Map {
	if i.node.Kind == yaml.MappingNode || i.node.Kind == unreadable {
		return i.doc.mapping(i.node, "", known)
	}
	remedy := "compare with the sample"
	if len(known) > 0 {
		remedy = "write - {" + known[0] + ": ...}"
	}
	i.doc.refuse(i.node, kindOf(i.node)+" where an entry of "+i.key+" belongs", remedy)
	return i.doc.absent("", i.node.Line)
}

// Refuse adds a fault at the entry.
func (i Item) Refuse(what, remedy string) { i.doc.refuse(i.node, what, remedy) }

// Warn adds a warning at the entry.
func (i Item) Warn(what, remedy string) {
	i.doc.add(i.node.Line, i.node.Column, what, remedy, true)
}
