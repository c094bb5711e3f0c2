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

// ErrNoLine is what a keeper has told its daemon already.
var ErrNoLine = errors.New("there is no line to keep")

// Line is one switched line: the driver and what the driver calls it.
type Line struct{ Driver, Name string }

// String is the line as it is written in a file of lines and on a command line.
func (l Line) String() string { return l.Driver + " " + l.Name }

// Lines are the lines of a rig that it can switch on: the element's first. Root
// is where the tree of files begins, / on a real system.
func Lines(rig config.Rig, root string) []Line {
	lines := []Line{{rig.Element.Relay.Driver, rig.Element.Relay.Line}}
	if rig.Pump.Present() {
		lines = append(lines, Line{rig.Pump.Relay.Driver, rig.Pump.Relay.Line})
	}
	for i, l := range lines {
		if l.Driver == "sysfs" && filepath.IsAbs(l.Name) {
			lines[i].Name = filepath.Join(root, l.Name)
		}
	}
	return lines
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
