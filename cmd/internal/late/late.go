// Package late tells how late a batch is against its plan, and what made it so.
//
// Plan and batch are aligned by step: at every moment the batch stands at one
// instant of its plan, by the temperature in a heat-up, by the time that is left
// in a rest, at its end while a person is awaited. Late is the batch's clock less
// that instant. Each second moves both; by how much they move apart is booked to
// whatever held the batch up, or brought it forward, in that second. So the causes
// always add up to actual less planned.
//
// A temperature cannot tell a weak element from a full kettle. What a heat-up took
// longer stays with both until somebody has read a volume.
package late

import (
	"cmp"
	"slices"
	"time"
)

// Cause is what a minute is booked to.
type Cause uint8

// The causes. Power is what the element gives or is kept from giving: its
// strength, the supply, heat that was cut. Water is what stands in the kettle and
// how warm it came, grain included. PowerOrWater is what no reading can tell
// apart; a lid that is off and of which nobody told hides there too. Settling is
// what every kettle takes and no plan counts: heat on its way, water that comes to
// rest, a boil that has to be made sure of. Profile is a day that was changed.
const (
	Person Cause = iota
	Power
	Water
	PowerOrWater
	Lid
	Pump
	Settling
	Profile
	causeCount
)

// Causes is the number of causes.
const Causes = int(causeCount)

var causeNames = [...]string{"person", "element", "water", "element-or-water", "lid", "pump", "settling", "profile"}

// String is the cause as a word of the interface.
func (c Cause) String() string {
	if int(c) < len(causeNames) {
		return causeNames[c]
	}
	return "unknown"
}

// Place is where in the day it was.
type Place uint8

// The places. Most belong to a step.
const (
	Start    Place = iota // what was filled, and how warm
	HeatUp                // on the way to a target
	Rest                  // while the clock of a step should run
	Pour                  // grain goes in, or is waited for
	Landing               // the mash lands beside its target
	Hoist                 // the lift
	Door                  // "I am here, lid off"
	Chiller               // the chiller is waited for
	Cooling               // on the way down
	Question              // "did grain go in?"
	Pause                 // a person's pause
	Stop                  // held by a person
	Trip                  // held by a heat cut that latched
	Cut                   // heat withheld for a while
	Skip                  // a step left early, or that taken back
	Longer                // a step made longer, or shorter
	Again                 // a step repeated
	Press                 // another press that moved the day
	Deed                  // water that was told of
	Outage                // the supply was gone
	Break                 // from below the boil to it, gently, and until it is sure that it boils
)

var placeNames = [...]string{
	"start", "heat-up", "rest", "pour", "landing", "lift", "lid-question", "chiller", "cooling", "question", "pause",
	"stop", "heat-trip", "heat-cut", "skip", "longer", "again", "press", "told", "outage", "break",
}

// String is the place as a word of the interface.
func (p Place) String() string {
	if int(p) < len(placeNames) {
		return placeNames[p]
	}
	return "unknown"
}

// Part is what one cause took at one place; negative: it brought the day forward.
type Part struct {
	Cause Cause
	Place Place
	Step  uint8
	Took  time.Duration
}

// Account is how late a batch is and why. The parts add up to Late.
type Account struct {
	Late  time.Duration // actual less planned; negative: early
	Clock time.Duration // since arming, when it was so
	Parts []Part        // the largest first
}

// By is the account by cause alone. The sums add up to Late.
func (a *Account) By() (sums [Causes]time.Duration) {
	for _, p := range a.Parts {
		sums[p.Cause] += p.Took
	}
	return sums
}

// add books to a list of parts.
func add(parts []Part, p Part) []Part {
	if p.Took == 0 {
		return parts
	}
	for i := range parts {
		if have := &parts[i]; have.Cause == p.Cause && have.Place == p.Place && have.Step == p.Step {
			have.Took += p.Took
			return parts
		}
	}
	return append(parts, p)
}

// sorted puts the largest first and leaves out what came to nothing.
func sorted(parts []Part) []Part {
	parts = slices.DeleteFunc(parts, func(p Part) bool { return p.Took == 0 })
	slices.SortStableFunc(parts, func(a, b Part) int { return cmp.Compare(b.Took.Abs(), a.Took.Abs()) })
	return parts
}
