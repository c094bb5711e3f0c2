// Package sensors says what a reading is: a value, the instant it was taken,
// and why it may be missing. A reading without an age is a rumour.
package sensors

import (
	"time"

	"mashward/controller/unit"
)

// Fault says why a reading has no value. The zero value, NoReading, means
// that nothing has been measured yet: a missing value is never a good one.
type Fault uint8

// Why a reading carries no value.
const (
	NoReading Fault = iota // nothing measured yet
	None                   // the value is good
	Open                   // probe or its wire is open: nothing answers
	Shorted                // the wire is shorted: all zeros
	Checksum               // the answer failed its checksum
	PowerOn                // the chip answered with its power-on value, not a measurement
	Range                  // the value is outside what the chip can measure
	Bus                    // the bus or the file gave an error
)

var faultNames = [...]string{"no reading", "none", "open", "shorted", "checksum", "power-on value", "out of range", "bus error"}

// String is the fault in words.
func (f Fault) String() string {
	if int(f) < len(faultNames) {
		return faultNames[f]
	}
	return "unknown fault"
}

// Reading is one measurement. Value means something only when Fault is None.
type Reading struct {
	Value unit.Celsius
	Taken time.Duration // run clock (monotonic, since the process began)
	Fault Fault
}

// Good tells whether the reading has a value.
func (r Reading) Good() bool { return r.Fault == None }

// Age is how long ago the reading was taken. Negative means that it claims to
// come from the future, which no caller may trust.
func (r Reading) Age(now time.Duration) time.Duration { return now - r.Taken }

// Probe gives the newest reading and never blocks.
type Probe interface {
	Latest() Reading
}
