package interlock

import (
	"time"

	"mashward/controller/unit"
	"mashward/sensors"
)

// Stage is where the batch stands for the purpose of limits.
type Stage uint8

// The stages. The zero value has the lower limit.
const (
	Mash   Stage = iota // up to the first lift press
	Lifted              // from "bag clear" on
)

// Switch is what a level switch says.
type Switch uint8

// The states of a level switch. Unknown is a rig that has none.
const (
	Unknown Switch = iota
	Filled
	Dry
)

// Facts are all that the interlock may know about one instant.
type Facts struct {
	Now     time.Duration   // run clock: monotonic, strictly rising
	Reading sensors.Reading // newest, raw, unfiltered
	Wanted  unit.Relay      // what the controller asks for
	Applied unit.Relay      // what the line did since the last Step; On if that is unknown
	Armed   bool            // a person declared it filled and armed it
	Heats   bool            // the batch is running or paused
	Stage   Stage
	// Volume in the kettle, cold, as a person declared it after the lift; 0
	// before. A change is a new statement and starts the balance anew.
	Volume unit.Litres
	// Statement counts the statements of volume, so that the same figure can
	// be stated again after a top-up. May stay 0.
	Statement uint32
	// Drawn is the cold volume that a person says he has taken out since Volume
	// was stated. Within one statement it only grows. There is no fact for what
	// was put in: only a volume that somebody has read raises the balance.
	Drawn unit.Litres
	// EmptySwitch is the level switch, Unknown on a rig that has none.
	EmptySwitch Switch
	Finding     Rule // finding of the model-based checks; NoRule = none
	Clear       bool // a person clears what has tripped
}

// Verdict is the answer to one Step.
type Verdict struct {
	Permitted unit.Relay    // never On unless On was wanted
	Cut       Rule          // oldest cut in force, or NoRule
	Trip      Rule          // oldest trip that stands, or NoRule
	Since     time.Duration // run clock at which Trip, or else Cut, began
}

// Sample is a reading that passed for one.
type Sample struct {
	Value unit.Celsius
	Taken time.Duration
}

// State is how far a rule has gone. The zero value is Quiet.
type State uint8

// The states of a rule.
const (
	Quiet State = iota
	Cutting
	Tripped
)

// Mark is the memory of one rule.
type Mark struct {
	State State
	Since time.Duration // when it began to cut, or tripped
	Seen  time.Duration // when its cause was last there
}

// Guard is the memory of the interlock: plain and comparable. The fields are
// exported so that a checkpoint can hold them; nobody else writes them. The
// zero Guard permits nothing: its first Step only takes the time.
type Guard struct {
	Started bool
	Now     time.Duration // of the last Step

	Seen     bool   // Last holds a reading
	Last     Sample // newest accepted reading
	Doubt    Sample // newest reading that disagrees with Last
	Agreeing uint8  // how many in a row agree with Doubt; 0 = no doubt

	Armed time.Duration // armed without a break for so long
	OnFor time.Duration // heating without a break for so long

	Declared  unit.Litres // stated after the lift; 0 = not; negative = stated and unusable
	Statement uint32
	BoiledOff unit.Litres // estimated since Declared was stated
	Drawn     unit.Litres // taken out since then, as a person said
	Debt      unit.Joules // loss not yet covered by power, never positive

	Marks [ruleEnd]Mark
}

// Left is the estimated cold volume in the kettle after the lift, and whether
// there is such an estimate. It is a figure for warnings: its terms stand in level.go.
func (g Guard) Left() (unit.Litres, bool) {
	if g.Declared == 0 {
		return 0, false
	}
	return max(g.left(), 0), true
}

// left is what the balance leaves of the volume stated.
func (g Guard) left() unit.Litres { return g.Declared - g.BoiledOff - g.Drawn }

// Restarted is the Guard after a restart, when the run clock begins anew: what
// has tripped stays tripped, the balance and the time under arming go on, and
// everything that hangs on the clock or the probe is forgotten.
func (g Guard) Restarted() Guard {
	n := Guard{
		Armed:    g.Armed,
		Declared: g.Declared, Statement: g.Statement, BoiledOff: g.BoiledOff, Drawn: g.Drawn,
	}
	for r, m := range g.Marks {
		if m.State >= Tripped {
			n.Marks[r].State = Tripped
		}
	}
	return n
}

// fresh tells whether the accepted reading still permits heat.
func (g Guard) fresh() bool {
	age := g.Now - g.Last.Taken
	return g.Seen && age >= 0 && age <= Fresh
}

// standing is the oldest rule in that state, and when it got there.
func (g Guard) standing(s State) (Rule, time.Duration) {
	oldest, since := NoRule, time.Duration(0)
	for r := NoRule + 1; r < ruleEnd; r++ {
		m := g.Marks[r]
		if min(m.State, Tripped) == s && (oldest == NoRule || m.Since < since) {
			oldest, since = r, m.Since
		}
	}
	return oldest, since
}

// verdict permits what is wanted if no rule cuts or has tripped.
func (g Guard) verdict(wanted unit.Relay) Verdict {
	cut, cutSince := g.standing(Cutting)
	trip, tripSince := g.standing(Tripped)
	v := Verdict{Cut: cut, Trip: trip, Since: cutSince}
	if trip != NoRule {
		v.Since = tripSince
	}
	ok := cut == NoRule && trip == NoRule
	v.Permitted = wanted.And(unit.RelayOf(ok))
	return v
}
