// Package strict reads the YAML files people write: profile, rig, plant and
// fault script. It knows where everything stands, refuses whatever it does not
// know, and reports all faults of a file at once, each with what to write
// instead. A file that only nearly says what was meant must not heat anything.
package strict

import (
	"fmt"
	"sort"

	"mashward/controller/unit"
)

// Fault is one thing wrong with a file.
type Fault struct {
	File    string
	Line    int // from 1; 0: the file as a whole
	Column  int // from 1; 0: unknown
	What    string
	Remedy  string
	Warning bool // true: it is said, and the file is used
}

// String is "file:line: what; remedy", as editors and people read it.
func (f Fault) String() string {
	place := f.File
	if f.Line > 0 {
		place = fmt.Sprintf("%s:%d", f.File, f.Line)
	}
	text := unit.JoinRemedy(f.What, f.Remedy)
	if f.Warning {
		text = "warning: " + text
	}
	return place + ": " + text
}

// Refused tells whether any of the faults is more than a warning.
func Refused(faults []Fault) bool {
	for _, f := range faults {
		if !f.Warning {
			return true
		}
	}
	return false
}

// Sort puts faults in the order of the file.
func Sort(faults []Fault) {
	sort.SliceStable(faults, func(i, j int) bool {
		a, b := faults[i], faults[j]
		if a.Line != b.Line {
			return a.Line < b.Line
		}
		return a.Column < b.Column
	})
}
