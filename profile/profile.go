// Package profile is the mash profile: what the brewer wants done, step by
// step, parsed and checked before anything heats.
package profile

import (
	"time"

	"mashward/controller/unit"
)

// Kind is what a step is, in the trade's words.
type Kind uint8

// The kinds of steps. Strike is never written in a file: it stands before a
// mash-in, with a temperature that is computed.
const (
	Strike Kind = iota
	MashIn
	Rest
	MashOut
	Lift
	Boil
	Stand
	Chill
)

var kindNames = [...]string{"strike", "mash-in", "rest", "mash-out", "lift", "boil", "stand", "chill"}

// String is the word used in files, on the page and in metrics.
func (k Kind) String() string {
	if int(k) < len(kindNames) {
		return kindNames[k]
	}
	return "unknown"
}

// MaxSteps and MaxAdditions bound a profile, so that the controller's state is
// a plain value of fixed size.
const (
	MaxSteps     = 32
	MaxAdditions = 32
)

// Profile is one brew day as the brewer wrote it.
type Profile struct {
	Name   string
	Water  unit.Litres   // cold litres filled before strike
	Grain  Grain         // zero mass: a profile with water only
	Trub   unit.Ratio    // of the cold wort, left behind with hops and break; default 5 %
	Steps  []Step        // as written: no strike entry
	Expect []Expectation // what a rehearsal has to keep
	Use    Use           // what it is for; default: a brew
	File   string        // where it was read from, for messages
	Line   int           // where its water stands in the file
}

// Grain is what goes into the bag.
type Grain struct {
	Mass        unit.Kilograms
	Temperature unit.Celsius
	Moisture    unit.Ratio             // water in the malt, default 4 %
	Slaking     unit.JoulesPerKilogram // heat set free on wetting, default 0
	Extract     unit.Ratio             // of the dry malt, as a laboratory finds it, default 80 %
	Conversion  unit.Ratio             // of that extract, dissolved by this mash, default 92 %
}

// Step is one entry of a profile.
type Step struct {
	Kind      Kind
	Name      string // optional label, for the page only
	Target    unit.Celsius
	For       time.Duration        // rest, mash-in, mash-out, boil, stand
	Ramp      unit.KelvinPerSecond // ceiling of the heat-up; 0 = as fast as the kettle can
	Floor     unit.Kelvin          // the rest clock counts at or above target - Floor; default 1 K
	BoilOff   unit.LitresPerSecond // cold litres evaporated; boil only; 0 = default vigour
	Additions []Addition
	Line      int // where it stands in the file
}

// Addition is something the brewer throws in.
type Addition struct {
	When When
	Left time.Duration // ByLeft: time left of the step; 0 in a boil is flame-out
	At   time.Duration // ByClock: since the step's clock began
	Add  string        // what, in his words
	Line int
}

// When is what the moment of an addition is counted by.
type When uint8

// The ways. A lift and a chill have no clock, and one moment each.
const (
	ByLeft   When = iota // by what is left of the step
	ByClock              // from the moment its clock begins
	AtStrike             // written with the mash-in: into the strike water
	AtOnce               // lift: when the bag is out; chill: when the wort is cold
)

// Order is the additions of the day in the order of their numbers: those for the
// strike water first, then as written. Step is the entry they belong to, 0 the strike.
func (p Profile) Order() (all []Addition, step []int) {
	for i := range p.Steps {
		for _, a := range p.Steps[i].Additions {
			if a.When == AtStrike {
				all, step = append(all, a), append(step, 0)
			}
		}
	}
	for i := range p.Steps {
		for _, a := range p.Steps[i].Additions {
			if a.When != AtStrike {
				all, step = append(all, a), append(step, i+1)
			}
		}
	}
	return all, step
}
