package main

import (
	"fmt"
	"io"
	"strings"
	"unicode"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/schema"
	"mashward/profile/strict"
)

// runCheck is `mashward check`.
func runCheck(c *call) error {
	o := newOptions("check", "[--rig FILE] FILE|FOLDER...\n       mashward check --show [--rig FILE] FILE...\n       mashward check --schema KIND",
		"Checks files of any kind: profiles, rigs, plants, faults, tunings, notify\n"+
			"files, and the .yaml\n"+
			"and .yml files of whole folders. With --rig, profiles are also held against that\n"+
			"kettle. All faults are told at once. Exit code: that of the worst file.", c.out)
	rig := o.String("rig", "", "kettle `file` to hold profiles against")
	format := o.String("format", "text", "text or json")
	show := o.Bool("show", false, "write out what a file means, with all defaults filled in;\n      of a rig, the plant that is simulated for it")
	kind := o.String("schema", "", "write the JSON Schema of a `kind` of files: "+strings.Join(schema.Kinds(), ", "))
	if done, err := o.parse(c.args); done || err != nil {
		return err
	}
	if err := isFormat(*format); err != nil {
		return err
	}
	switch {
	case *kind != "":
		if len(o.words) > 0 || *show || *rig != "" {
			return usage("check: --schema goes alone: it is about a kind of files, not about one file")
		}
		return c.writeSchema(*kind)
	case len(o.words) == 0:
		return usage("check: which files? Name at least one, or a folder")
	case *show && *format == "json":
		return usage("check: --show writes a file; leave --format out")
	case *show:
		return c.showFiles(o.words, *rig)
	}
	reports := config.CheckAll(o.words, *rig)
	if *format == "json" {
		if err := c.json(asJSON(reports)); err != nil {
			return err
		}
	} else {
		c.tell(reports)
	}
	return worst(reports)
}

func (c *call) writeSchema(kind string) error {
	text, ok := schema.Text(kind)
	if !ok {
		return usage("check: there is no schema of %q; write one of %s", kind, strings.Join(schema.Kinds(), ", "))
	}
	_, err := c.out.Write(text)
	return err
}

// worst is the exit of many files: the highest code of them.
func worst(reports []config.Report) error {
	code := exitOK
	for _, r := range reports {
		code = max(code, r.Code)
	}
	if code != exitOK {
		return &exit{code: code}
	}
	return nil
}

// tell prints what there is to say: good files to the output, faults beside it.
func (c *call) tell(reports []config.Report) {
	for _, r := range reports {
		for _, f := range r.Faults {
			fmt.Fprintln(c.err, f)
			excerpt(c.err, f, r.Text)
		}
		if r.Code == exitOK && r.Kind != "" {
			fmt.Fprintf(c.out, "%s: good\n", r.File)
		}
	}
}

// excerpt shows the line of a fault, and the column where that is known.
func excerpt(out io.Writer, f strict.Fault, text []byte) {
	lines := strings.Split(string(text), "\n")
	if f.Line < 1 || f.Line > len(lines) {
		return
	}
	shown, column := fit(lines[f.Line-1], f.Column)
	fmt.Fprintf(out, "%6d | %s\n", f.Line, shown)
	if column > 0 {
		fmt.Fprintf(out, "       | %s^\n", strings.Repeat(" ", column-1))
	}
}

// fit cuts a line to what a terminal shows, the column in it, and takes out
// what a terminal would obey.
func fit(text string, column int) (string, int) {
	const widest, before = 100, 60
	runes := []rune(strings.ToValidUTF8(strings.TrimRight(text, " \r"), "?"))
	for i, r := range runes {
		if !unicode.IsPrint(r) {
			runes[i] = ' '
		}
	}
	if from := min(column-before, len(runes)); len(runes) > widest && from > 0 {
		runes, column = append([]rune("..."), runes[from:]...), column-from+len("...")
	}
	if len(runes) > widest {
		runes = append(runes[:widest], []rune("...")...)
	}
	return string(runes), column
}

// checkedFile is one file in the answer for programs.
type checkedFile struct {
	File   string         `json:"file"`
	Kind   *string        `json:"kind"` // null: it cannot be told
	OK     bool           `json:"ok"`
	Faults []checkedFault `json:"faults"`
}

// checkedFault is one fault; line and column count from 1 and are null where
// they are not known.
type checkedFault struct {
	Line    *int   `json:"line"`
	Column  *int   `json:"column"`
	What    string `json:"what"`
	Remedy  string `json:"remedy"`
	Warning bool   `json:"warning"`
}

func asJSON(reports []config.Report) []checkedFile {
	all := []checkedFile{}
	for _, r := range reports {
		one := checkedFile{File: r.File, OK: r.Code == exitOK, Faults: []checkedFault{}}
		if r.Kind != "" {
			one.Kind = &r.Kind
		}
		for _, f := range r.Faults {
			one.Faults = append(one.Faults, checkedFault{known(f.Line), known(f.Column), f.What, f.Remedy, f.Warning})
		}
		all = append(all, one)
	}
	return all
}

func known(n int) *int {
	if n < 1 {
		return nil
	}
	return &n
}

// showFiles writes out what files mean. Several are parted as YAML documents are.
func (c *call) showFiles(paths []string, rigPath string) error {
	var rig *config.Rig
	if rigPath != "" {
		r, warnings, err := config.LoadRig(rigPath)
		if err != nil {
			return err
		}
		c.warn(warnings)
		rig = &r
	}
	code := exitOK
	for i, path := range paths {
		text, warnings, err := config.Show(path, rig)
		if err != nil {
			code = max(code, exitCode(err, c.err))
			continue
		}
		c.warn(warnings)
		if i > 0 {
			fmt.Fprintln(c.out, "---")
		}
		fmt.Fprintf(c.out, "# %s\n%s", path, text)
	}
	if code != exitOK {
		return &exit{code: code}
	}
	return nil
}
