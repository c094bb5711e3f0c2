// Package ahead tells how a running batch will go on: when each step ends, when
// a person is needed next, when it is all over, each with a band.
//
// All instants are on the batch clock: since arming.
package ahead

import (
	"fmt"
	"time"

	"mashward/controller/unit"
)

// Span is an instant that is not known exactly: it lies between Early and Late
// in nine cases of ten.
type Span struct {
	At, Early, Late time.Duration
}

// Moment is a time at which somebody is needed at the kettle.
type Moment struct {
	Span
	// Step is the entry of the profile that it belongs to, and Of tells its
	// moments apart ("pour", "lift", "addition-2"): together they name it for the
	// whole day, however often it is forecast anew.
	Step     uint8
	Of       string
	What     string // a full sentence, as in the plan
	Addition bool   // nothing waits for it: it passes by default
	// Until is how long whoever comes stays there at most: through a hot break, while it
	// chills. 0: until it is done.
	Until time.Duration
}

// ID is its name for the whole day.
func (m *Moment) ID() string { return fmt.Sprintf("%d-%s", m.Step, m.Of) }

// Step is one entry of what is left of the day. A step that has begun has its
// true start.
type Step struct {
	Index   uint8
	Start   Span
	Reached Span
	End     Span
}

// Forecast is what is left of a day, as seen at one instant.
type Forecast struct {
	Made    time.Duration
	Finish  Span
	Moments []Moment      // those to come, in order
	Stay    time.Duration // until when whoever is there stays; 0: nobody has to
	Steps   []Step        // from the present one on
	Energy  unit.Joules   // still to go in
	// EnergyLow and EnergyHigh are the band around it, as that of a span.
	EnergyLow, EnergyHigh unit.Joules
}

// Next is the next moment at which a person is needed; none: false.
func (f Forecast) Next() (Moment, bool) {
	if len(f.Moments) == 0 {
		return Moment{}, false
	}
	return f.Moments[0], true
}
