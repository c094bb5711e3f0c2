package strict

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"gopkg.in/yaml.v3"
)

// Keys are the keys a mapping may have. All others are refused.
type Keys []string

// Map is a mapping of the file. Its readers report what is wrong to the Doc
// and return the fallback (zero, unless Default says otherwise), so that a
// caller reads everything first and looks at the faults once.
//
// A Map that is missing has readers too: they report nothing and return the
// fallback, because the missing mapping itself was the fault, or was allowed.
type Map struct {
	doc    *Doc
	node   *yaml.Node // nil: missing
	path   string     // "kettle", for messages; "" at the top and in entries
	line   int
	broken map[string]bool // keys with a fault
	meant  map[string]bool // known keys that a mistyped one most likely stands for
	odd    bool            // has a key that is not known
}

// Map is the mapping the file consists of.
func (d *Doc) Map(known Keys) *Map {
	if d.root == nil {
		return d.absent("", 0)
	}
	return d.mapping(d.root, "", known)
}

// absent is a Map that is not in the file.
func (d *Doc) absent(path string, line int) *Map {
	return &Map{doc: d, path: path, line: line, broken: map[string]bool{}, meant: map[string]bool{}}
}

// mapping makes a Map of a node, refusing other kinds and unknown keys.
func (d *Doc) mapping(n *yaml.Node, path string, known Keys) *Map {
	m := d.absent(path, n.Line)
	if n.Kind == unreadable {
		return m
	}
	if n.Kind != yaml.MappingNode {
		d.refuse(n, prefix(path)+kindOf(n)+" where keys with values belong", "write "+keysSample(path, known))
		return m
	}
	m.node = n
	for i := 0; i+1 < len(n.Content); i += 2 {
		m.checkKey(n.Content[i], known)
	}
	return m
}

func (m *Map) checkKey(key *yaml.Node, known Keys) {
	for _, k := range known {
		if k == key.Value {
			return
		}
	}
	m.odd = true
	what := "unknown key " + show(key.Value)
	if m.path != "" {
		what += " in " + m.path
	}
	if near := Nearest(key.Value, known); near != "" {
		m.meant[near] = true
		m.doc.refuse(key, what, "write "+near)
		return
	}
	m.doc.refuse(key, what, "known here: "+strings.Join(known, ", "))
}

// find gives key and value nodes, or nil.
func (m *Map) find(key string) (k, v *yaml.Node) {
	if m.node == nil {
		return nil, nil
	}
	for i := 0; i+1 < len(m.node.Content); i += 2 {
		if m.node.Content[i].Value == key {
			return m.node.Content[i], m.node.Content[i+1]
		}
	}
	return nil, nil
}

// Missing tells whether the mapping is not in the file.
func (m *Map) Missing() bool { return m.node == nil }

// Odd tells whether the mapping has a key that is not known: whatever seems to
// be missing may be what was meant by it.
func (m *Map) Odd() bool { return m.odd }

// Has tells whether a key is written.
func (m *Map) Has(key string) bool {
	_, v := m.find(key)
	return v != nil
}

// Sound tells whether a key is written and no fault was found in its value by
// a reader that has run.
func (m *Map) Sound(key string) bool { return m.Has(key) && !m.broken[key] }

// IsMap tells whether a key is written and holds keys of its own.
func (m *Map) IsMap(key string) bool {
	_, v := m.find(key)
	return v != nil && v.Kind == yaml.MappingNode
}

// Says tells whether a key's value is this word.
func (m *Map) Says(key, word string) bool {
	_, v := m.find(key)
	return v != nil && v.Kind == yaml.ScalarNode && v.Value == word
}

// Empty tells whether a key is written without a value.
func (m *Map) Empty(key string) bool {
	_, v := m.find(key)
	return v != nil && v.Kind == yaml.ScalarNode && (v.Tag == "!!null" || v.Value == "")
}

// Line is where the mapping begins; 0 if it is missing.
func (m *Map) Line() int { return m.line }

// LineOf is where a key stands, or where the mapping begins without it.
func (m *Map) LineOf(key string) int {
	if k, _ := m.find(key); k != nil {
		return k.Line
	}
	return m.line
}

// Refuse adds a fault at a key (at the mapping, where the key is missing).
func (m *Map) Refuse(key, what, remedy string) { m.report(key, what, remedy, false) }

// Warn adds a warning at a key.
func (m *Map) Warn(key, what, remedy string) { m.report(key, what, remedy, true) }

func (m *Map) report(key, what, remedy string, warning bool) {
	column := 0
	if k, _ := m.find(key); k != nil {
		column = k.Column
	}
	m.broken[key] = m.broken[key] || !warning
	m.doc.add(m.LineOf(key), column, m.label(key)+what, remedy, warning)
}

// label is "kettle.capacity: ", what messages begin with.
func (m *Map) label(key string) string {
	if m.path == "" {
		return prefix(key)
	}
	return prefix(m.path + "." + key)
}

func prefix(path string) string {
	if path == "" {
		return ""
	}
	return path + ": "
}

// Map reads a mapping below a key.
func (m *Map) Map(key string, known Keys, options ...Option) *Map {
	path := strings.TrimSuffix(m.label(key), ": ")
	_, v := m.find(key)
	if v == nil {
		w := wants(options)
		m.missing(key, w, keysSample(key, known))
		return m.doc.absent(path, m.line)
	}
	sub := m.doc.mapping(v, path, known)
	m.broken[key] = sub.Missing()
	return sub
}

// missing reports a required key that is not there, unless it is there with a
// typing error, which was said already.
func (m *Map) missing(key string, w want, sample string) {
	if !w.required || m.node == nil || m.meant[key] {
		return
	}
	if w.example != "" {
		sample = key + ": " + w.example
	}
	what := key + " is missing"
	if m.path != "" {
		what = m.path + ": " + what
	}
	m.broken[key] = true
	m.doc.add(m.line, m.node.Column, what, "write "+sample, false)
}

// scalar gives the text of a key's value, or reports why there is none.
func (m *Map) scalar(key string, w want, example string) (string, bool) {
	if w.example != "" {
		example = w.example
	}
	k, v := m.find(key)
	switch {
	case v == nil:
		m.missing(key, w, key+": "+example)
		return "", false
	case v.Kind == unreadable:
		m.broken[key] = true
		return "", false
	case v.Kind != yaml.ScalarNode:
		m.Refuse(key, kindOf(v)+" where one value belongs", "write "+k.Value+": "+example)
		return "", false
	case v.Tag == "!!null" || v.Value == "":
		m.Refuse(key, "nothing is written", "write "+k.Value+": "+example)
		return "", false
	}
	return v.Value, true
}

// Text reads free text of one line: at most 64 characters (or what MaxRunes
// says), none of them a control character.
func (m *Map) Text(key string, options ...Option) string {
	w := wants(options)
	text, ok := m.scalar(key, w, "a name")
	if !ok {
		return w.text
	}
	if what, remedy := plainText(text, w.runes); what != "" {
		m.Refuse(key, what, remedy)
		return w.text
	}
	return strings.TrimSpace(text)
}

func plainText(text string, longest int) (what, remedy string) {
	if strings.TrimSpace(text) == "" {
		return "only blanks are written", "write a word"
	}
	for _, r := range text {
		if unicode.IsControl(r) || unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp) {
			return show(text) + " has a line break or an invisible character", "write it in one line, with plain characters"
		}
	}
	if n := utf8.RuneCountInString(text); n > longest {
		return show(text) + " is " + number(n) + " characters long", "keep it to " + number(longest)
	}
	return "", ""
}

// Word reads one of a few words.
func (m *Map) Word(key string, choices []string, options ...Option) string {
	w := wants(options)
	text, ok := m.scalar(key, w, listed(choices))
	if !ok {
		return w.text
	}
	for _, c := range choices {
		if c == text {
			return c
		}
	}
	remedy := "write " + listed(choices)
	if near := Nearest(text, choices); near != "" {
		remedy = "write " + near
	}
	m.Refuse(key, show(text)+" is not known", remedy)
	return w.text
}

// Yes reads yes or no.
func (m *Map) Yes(key string, options ...Option) bool {
	w := wants(options)
	text, ok := m.scalar(key, w, "yes")
	if !ok {
		return w.value != 0
	}
	switch strings.ToLower(text) {
	case "yes", "true":
		return true
	case "no", "false":
		return false
	}
	m.Refuse(key, show(text)+" is neither yes nor no", "write yes or no")
	return w.value != 0
}

func kindOf(n *yaml.Node) string {
	switch {
	case n.Kind == yaml.MappingNode:
		return "keys with values"
	case n.Kind == yaml.SequenceNode:
		return "a list"
	case n.Tag == "!!null":
		return "nothing"
	}
	return show(n.Value)
}

// keysSample shows how a mapping is begun.
func keysSample(path string, known Keys) string {
	inner := "key: value"
	if len(known) > 0 {
		inner = known[0] + ": ..."
	}
	if path == "" {
		return inner
	}
	return path[strings.LastIndex(path, ".")+1:] + ": {" + inner + "}"
}
