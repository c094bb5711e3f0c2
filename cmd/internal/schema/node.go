package schema

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
)

// node is a schema or a part of one, with the few words of JSON Schema that are
// needed here, in the order a person reads them.
type node struct {
	Dialect     string   `json:"$schema,omitempty"`
	Title       string   `json:"title,omitempty"`
	Description string   `json:"description,omitempty"`
	Type        types    `json:"type,omitempty"`
	Const       string   `json:"const,omitempty"`
	Enum        []string `json:"enum,omitempty"`
	Pattern     string   `json:"pattern,omitempty"`
	MaxLength   int      `json:"maxLength,omitempty"`
	Minimum     *int     `json:"minimum,omitempty"`
	Maximum     *int     `json:"maximum,omitempty"`
	MinItems    int      `json:"minItems,omitempty"`
	MaxItems    int      `json:"maxItems,omitempty"`
	Items       *node    `json:"items,omitempty"`
	OneOf       []*node  `json:"oneOf,omitempty"`
	Properties  keys     `json:"properties,omitempty"`
	Required    []string `json:"required,omitempty"`
	Closed      closed   `json:"additionalProperties,omitempty"`
	AllOf       []*node  `json:"allOf,omitempty"`
	If          *node    `json:"if,omitempty"`
	Then        *node    `json:"then,omitempty"`
	Else        *node    `json:"else,omitempty"`
	Default     string   `json:"default,omitempty"`
	Examples    []string `json:"examples,omitempty"`

	from, to string // range of a figure, as the reader's message prints it
}

// types is one type or several.
type types []string

// MarshalJSON writes one type as a word and several as a list.
func (t types) MarshalJSON() ([]byte, error) {
	if len(t) == 1 {
		return json.Marshal(t[0])
	}
	return json.Marshal([]string(t))
}

// closed is true for a mapping that takes no further keys.
type closed bool

// MarshalJSON writes the value of additionalProperties.
func (c closed) MarshalJSON() ([]byte, error) { return json.Marshal(!bool(c)) }

// key is one key of a mapping.
type key struct {
	name string
	must bool
	is   *node
}

// keys are those of a mapping, in the order a file has them.
type keys []key

// MarshalJSON writes the keys in their order, which a Go map would lose.
func (k keys) MarshalJSON() ([]byte, error) {
	var text bytes.Buffer
	text.WriteByte('{')
	for i, one := range k {
		if i > 0 {
			text.WriteByte(',')
		}
		value, err := json.Marshal(one.is)
		if err != nil {
			return nil, err
		}
		fmt.Fprintf(&text, "%q:%s", one.name, value)
	}
	text.WriteByte('}')
	return text.Bytes(), nil
}

// must is a key that has to be there.
func must(name string, is *node) key { return key{name, true, is} }

// may is a key that can be left out.
func may(name string, is *node) key { return key{name, false, is} }

// mapping is keys with values, and no other keys than these.
func mapping(title, about string, all ...key) *node {
	n := &node{Title: title, Description: about, Type: types{"object"}, Closed: true, Properties: all}
	for _, k := range all {
		if k.must {
			n.Required = append(n.Required, k.name)
		}
	}
	return n
}

// words is one of a few words. without is what a missing one stands for, "" if
// that depends.
func words(title, about, without string, choices ...string) *node {
	return &node{
		Title: title, Description: told(about, without), Type: types{"string"}, Enum: choices,
		Default: without, Examples: choices[:1],
	}
}

// told adds to a description what a missing key stands for.
func told(about, without string) string {
	if without == "" {
		return about
	}
	return about + " Left out: " + without + "."
}

// line is free text of one line. YAML reads an unquoted 17 as a number; to the
// readers it is text all the same.
func line(title, about string, longest int, example string) *node {
	const plain = `[^\x00-\x1f\x7f]*`
	return &node{
		Title: title, Description: fmt.Sprintf("%s One line of at most %d characters.", about, longest),
		Type: types{"string", "number", "boolean"}, Pattern: "^" + plain + `[^\x00-\x20\x7f]` + plain + "$",
		MaxLength: longest, Examples: []string{example},
	}
}

// yes is yes or no. YAML 1.1 reads the words as a truth, YAML 1.2 as text.
func yes(title, about string) *node {
	return &node{
		Title: title, Description: told(about+" Yes or no.", "no"), Type: types{"boolean", "string"},
		Pattern: "^([Yy][Ee][Ss]|[Tt][Rr][Uu][Ee]|[Nn][Oo]|[Ff][Aa][Ll][Ss][Ee])$", Default: "no", Examples: []string{"no", "yes"},
	}
}

// count is a whole number without a unit.
func count(title, about string, least, most int) *node {
	return &node{
		Title: title, Description: fmt.Sprintf("%s A whole number from %d to %d.", about, least, most),
		Type: types{"integer", "string"}, Minimum: &least, Maximum: &most, Pattern: "^[+-]?[0-9]+$",
		from: fmt.Sprint(least), to: fmt.Sprint(most),
	}
}

// figure is a number with its unit. Where the default is one figure it stands
// in without, and where it depends on others, in words, in derived.
type figure struct {
	of           quantity
	title, about string
	from, to     string
	without      string
	derived      string
	example      string
}

// node is the figure as a schema.
func (f figure) node() *node {
	about := []string{f.about}
	if f.about == "" {
		about = nil
	}
	about = append(about, fmt.Sprintf("In %s, from %s to %s.", f.of.offer, f.from, f.to))
	if f.derived != "" {
		about = append(about, "Left out: "+f.derived+".")
	}
	return &node{
		Title: f.title, Description: told(strings.Join(about, " "), f.without), Type: types{"string"},
		Pattern: f.of.pattern(), Default: f.without, Examples: []string{f.example}, from: f.from, to: f.to,
	}
}
