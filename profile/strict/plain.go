package strict

import (
	"fmt"
	"strings"

	"gopkg.in/yaml.v3"
)

// unreadable is the kind of a node that was refused already: readers pass over
// it without a second complaint.
const unreadable yaml.Kind = 0

// plain walks the tree and refuses what makes a file say something else than
// it seems to: anchors, aliases, merges, tags, duplicate keys, great depth.
// What was refused is made unreadable, and the rest can still be read. The
// answer is false for a node that reaches too deep.
func (d *Doc) plain(n *yaml.Node, depth int) bool {
	if depth > MaxDepth {
		d.refuse(n, fmt.Sprintf("this is nested more than %d deep", MaxDepth), "nothing here needs that: compare with the sample")
		return false
	}
	d.literal(n)
	if n.Kind == yaml.MappingNode {
		d.keys(n)
	}
	shallow := true
	for i, child := range n.Content {
		if n.Kind == yaml.MappingNode && i%2 == 0 {
			continue // a key, and looked at already
		}
		if !d.plain(child, depth+1) {
			child.Kind, child.Content = unreadable, nil
			shallow = false
		}
	}
	return shallow || depth == 1
}

// literal refuses anchors, aliases and tags at one node.
func (d *Doc) literal(n *yaml.Node) {
	switch {
	case n.Kind == yaml.AliasNode:
		d.refuse(n, "an alias (*"+n.Value+") is used", "write the value out")
		n.Kind, n.Alias = unreadable, nil
	case n.Anchor != "":
		d.refuse(n, "an anchor (&"+n.Anchor+") is used", "take it out: aliases are not read here")
	case n.Style&yaml.TaggedStyle != 0:
		d.refuse(n, "a tag ("+n.Tag+") is used", "take it out: the key already says what the value is")
		n.Kind, n.Content = unreadable, nil
	}
}

// keys refuses keys that are no words, that merge, or that stand twice, and
// leaves the good ones in the mapping.
func (d *Doc) keys(n *yaml.Node) {
	first := make(map[string]int, len(n.Content)/2)
	kept := make([]*yaml.Node, 0, len(n.Content))
	for i := 0; i+1 < len(n.Content); i += 2 {
		key, value := n.Content[i], n.Content[i+1]
		switch line, twice := first[key.Value]; {
		case key.Tag == "!!merge":
			d.refuse(key, "a merge (<<) is used", "write the keys out")
		case key.Kind != yaml.ScalarNode:
			d.refuse(key, "a key must be a word", "compare with the sample")
		case splitByComma(n, kept, key, value):
			d.comma(kept[len(kept)-2], kept[len(kept)-1], key)
		case twice:
			d.refuse(key, fmt.Sprintf("%s stands twice, first in line %d", show(key.Value), line), "keep one of them")
		default:
			first[key.Value] = key.Line
			d.literal(key)
			kept = append(kept, key, value)
		}
	}
	n.Content = kept
}

// splitByComma recognises a decimal comma between braces: to YAML,
// {mass: 6,5 kg} is a mass of 6 and a key "5 kg" with nothing behind it.
func splitByComma(n *yaml.Node, kept []*yaml.Node, key, value *yaml.Node) bool {
	if n.Style&yaml.FlowStyle == 0 || len(kept) == 0 || value.Tag != "!!null" || value.Value != "" {
		return false
	}
	before := kept[len(kept)-1]
	return before.Kind == yaml.ScalarNode && endsInDigit(before.Value) && startsWithDigit(key.Value)
}

// comma refuses a decimal comma between braces.
func (d *Doc) comma(key, before, after *yaml.Node) {
	written, meant := before.Value+","+after.Value, before.Value+"."+after.Value
	d.refuse(key, key.Value+": "+show(written)+" has a decimal comma", "write "+meant)
	before.Kind = unreadable
}

func endsInDigit(s string) bool {
	return s != "" && strings.ContainsRune("0123456789", rune(s[len(s)-1]))
}

func startsWithDigit(s string) bool {
	return s != "" && strings.ContainsRune("0123456789", rune(s[0]))
}
