package strict

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"gopkg.in/yaml.v3"
)

// What a file may be at most. Both are far above any file worth reading and
// far below what could keep a small board busy.
const (
	MaxBytes = 256 << 10
	MaxDepth = 16
)

// maxFaults bounds a report: nobody mends more than that in one go.
const maxFaults = 100

// Doc is one file, read as far as it could be read, and what is wrong with it.
type Doc struct {
	name   string
	root   *yaml.Node // nil: nothing to read from
	faults []Fault
}

// Parse reads the one YAML document of a file. It always returns a Doc: what
// cannot be read is among its Faults, and readers of missing places give zero
// values.
func Parse(name string, text []byte) *Doc {
	d := &Doc{name: name}
	if !d.readable(text) {
		return d
	}
	d.root = d.decode(text)
	if d.root != nil {
		d.plain(d.root, 1)
	}
	return d
}

// Faults are all faults found so far, in the order of the file.
func (d *Doc) Faults() []Fault {
	sorted := append([]Fault(nil), d.faults...)
	Sort(sorted)
	return sorted
}

// Refused tells whether a fault so far is more than a warning.
func (d *Doc) Refused() bool { return Refused(d.faults) }

// Name is the file's name as given to Parse.
func (d *Doc) Name() string { return d.name }

// Refuse adds a fault at a line.
func (d *Doc) Refuse(line int, what, remedy string) { d.add(line, 0, what, remedy, false) }

// Warn adds a warning at a line.
func (d *Doc) Warn(line int, what, remedy string) { d.add(line, 0, what, remedy, true) }

func (d *Doc) add(line, column int, what, remedy string, warning bool) {
	if len(d.faults) == maxFaults {
		return
	}
	d.faults = append(d.faults, Fault{d.name, line, column, what, remedy, warning})
}

func (d *Doc) refuse(n *yaml.Node, what, remedy string) { d.add(n.Line, n.Column, what, remedy, false) }

// readable checks the bytes before any parser sees them.
func (d *Doc) readable(text []byte) bool {
	if len(text) > MaxBytes {
		d.Refuse(0, fmt.Sprintf("the file has %d KiB", (len(text)+1023)>>10), fmt.Sprintf("keep it below %d KiB", MaxBytes>>10))
		return false
	}
	for i, line := range bytes.Split(text, []byte("\n")) {
		if !utf8.Valid(line) {
			d.Refuse(i+1, "this line is not UTF-8 text", "save the file as UTF-8")
		}
		indent := line[:len(line)-len(bytes.TrimLeft(line, " \t"))]
		if bytes.ContainsRune(indent, '\t') && len(bytes.TrimSpace(line)) > 0 {
			d.Refuse(i+1, "a tab stands in the indentation", "write spaces instead")
		}
	}
	return len(d.faults) == 0
}

// decode runs the YAML parser. It is not ours, so that a panic in it becomes a
// fault of the file and never takes a daemon down.
func (d *Doc) decode(text []byte) (root *yaml.Node) {
	defer func() {
		if recover() != nil {
			d.Refuse(0, "the file cannot be read as YAML", "compare it with the sample")
			root = nil
		}
	}()
	decoder := yaml.NewDecoder(bytes.NewReader(text))
	var document, second yaml.Node
	switch err := decoder.Decode(&document); {
	case errors.Is(err, io.EOF), err == nil && len(document.Content) == 0:
		d.Refuse(0, "the file is empty", "start from the sample")
		return nil
	case err != nil:
		d.syntax(err, text)
		return nil
	}
	switch err := decoder.Decode(&second); {
	case errors.Is(err, io.EOF):
	case err != nil:
		d.syntax(err, text)
	default:
		d.Refuse(second.Line, "a second document begins here", "keep one document in a file: take the --- line and what follows it out")
	}
	return document.Content[0]
}

var (
	syntaxLine    = regexp.MustCompile(`^(?:yaml: )?line (\d+): (.*)$`)
	grammar       = regexp.MustCompile(`^did not find expected (<|node content|'-' indicator|key$|',' or)`)
	unknownAnchor = regexp.MustCompile(`^unknown anchor '([^']*)' referenced$`)
)

// syntax turns the YAML parser's error into a fault with a line.
func (d *Doc) syntax(err error, text []byte) {
	line, what := 0, strings.TrimPrefix(err.Error(), "yaml: ")
	if m := syntaxLine.FindStringSubmatch(err.Error()); m != nil {
		line, _ = strconv.Atoi(m[1]) // digits by the expression
		what = m[2]
	}
	if grammar.MatchString(what) {
		line++ // the library counts these from zero
	}
	if m := unknownAnchor.FindStringSubmatch(what); m != nil {
		if at := bytes.Index(text, []byte("*"+m[1])); at >= 0 {
			line = 1 + bytes.Count(text[:at], []byte("\n"))
		}
		d.Refuse(line, "an alias (*"+m[1]+") is used", "write the value out")
		return
	}
	d.Refuse(line, "not YAML: "+what, "check brackets, quotes and indentation here and on the line before")
}
