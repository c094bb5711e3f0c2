// Package hardware is a real kettle: the probe and the relays that a rig names,
// each line in a keeper of its own. It binds drivers together and decides
// nothing.
package hardware

import (
	"errors"
	"path/filepath"
	"strings"

	"mashward/cmd/internal/config"
)

// Behind is the word, after driver and line, with which a keeper keeps the line of
// a contact behind the element's relay.
const Behind = "behind"

// ErrNoLine is what a keeper has told its daemon already.
var ErrNoLine = errors.New("there is no line to keep")

// Line is one switched line: the driver and what the driver calls it.
type Line struct{ Driver, Name string }

// String is the line as it is written in a file of lines and on a command line.
func (l Line) String() string { return l.Driver + " " + l.Name }

// Lines are the lines of a rig that it can switch on: the element's first, then
// those that go off after it. Root is where the tree of files begins, / on a real
// system.
func Lines(rig config.Rig, root string) []Line {
	var lines []Line
	for _, p := range parts(rig, root) {
		lines = append(lines, p.line)
	}
	return lines
}

// part is one line of a rig and what hangs on it.
type part struct {
	what   string
	line   Line
	behind bool // in series behind the element's relay: it opens after that
}

// parts are the lines of a rig, the element's first.
func parts(rig config.Rig, root string) []part {
	all := []part{{what: "element", line: lineOf(rig.Element.Relay, root)}}
	if rig.Contactor.Present() {
		all = append(all, part{what: "contactor", line: lineOf(rig.Contactor, root), behind: true})
	}
	if rig.Pump.Present() {
		all = append(all, part{what: "pump", line: lineOf(rig.Pump.Relay, root)})
	}
	return all
}

func lineOf(r config.Relay, root string) Line {
	if r.Driver == "sysfs" && filepath.IsAbs(r.Line) {
		return Line{r.Driver, filepath.Join(root, r.Line)}
	}
	return Line{r.Driver, r.Line}
}

// FormatLines is the text of a file of lines, one each.
func FormatLines(lines []Line) string {
	var b strings.Builder
	for _, l := range lines {
		b.WriteString(l.String() + "\n")
	}
	return b.String()
}

// ParseLines reads such a file. There is nothing in it that could be wrong: a
// driver that does not exist is told when the line is to be switched.
func ParseLines(text string) []Line {
	var lines []Line
	for row := range strings.Lines(text) {
		if driver, name, _ := strings.Cut(strings.TrimSpace(row), " "); driver != "" {
			lines = append(lines, Line{driver, strings.TrimSpace(name)})
		}
	}
	return lines
}
