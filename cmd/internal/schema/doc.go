// Package schema says in JSON Schema (draft 2020-12) how the files look that a
// person writes: profile, rig, plant, fault script and notify file. Editors show from it what
// a key means, complete it and underline what is wrong while it is written.
//
// A schema sees one value at a time. What depends on two of them, or on how the
// YAML is written (a key that stands twice, an alias, a tab), only the strict
// readers see: a file is good when `mashward check` says so. The other way round
// holds too: no schema refuses what the readers take. Tests hold every key,
// range, default and unit here against the readers.
package schema

import (
	"bytes"
	"encoding/json"
	"fmt"
	"unicode"
	"unicode/utf8"
)

// dialect is the draft all schemas are written in.
const dialect = "https://json-schema.org/draft/2020-12/schema"

// Kinds are the kinds of files there is a schema for.
func Kinds() []string { return []string{"profile", "rig", "plant", "faults", "notify"} }

// Text is the schema for a kind of file, as indented JSON with a line break at
// its end. It is false for a word that is no kind.
func Text(kind string) ([]byte, bool) {
	n := root(kind)
	if n == nil {
		return nil, false
	}
	n.Dialect = dialect
	var text bytes.Buffer
	e := json.NewEncoder(&text)
	e.SetIndent("", " ")
	e.SetEscapeHTML(false)
	if err := e.Encode(n); err != nil {
		return nil, false // only strings and numbers are in it: it cannot be
	}
	return visible(text.String()), true
}

// visible writes blanks that cannot be told from a space by their number. They
// stand in strings only.
func visible(text string) []byte {
	var b []byte
	for _, r := range text {
		if r > unicode.MaxASCII && !unicode.IsPrint(r) {
			b = fmt.Appendf(b, `\u%04x`, r)
			continue
		}
		b = utf8.AppendRune(b, r)
	}
	return b
}

func root(kind string) *node {
	switch kind {
	case "profile":
		return profileFile()
	case "rig":
		return rigFile()
	case "plant":
		return plantFile()
	case "faults":
		return faultsFile()
	case "notify":
		return notifyFile()
	}
	return nil
}
