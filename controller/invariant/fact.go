package invariant

import (
	"time"

	"mashward/controller/unit"
	"mashward/sensors"
)

// Mode is the state of the batch, in the words of IEC 61512.
type Mode uint8

// The states of a batch.
const (
	Idle Mode = iota
	Running
	Paused
	Held
	Complete
	Stopped
	Aborted
	Offered
	modes
)

var modeNames = [modes]string{"idle", "running", "paused", "held", "complete", "stopped", "aborted", "offered"}

// String is the state in one word.
func (m Mode) String() string {
	if m < modes {
		return modeNames[m]
	}
	return "unknown"
}

// Heats tells whether a batch in this state may heat or pump.
func (m Mode) Heats() bool { return m == Running || m == Paused }

// over tells whether a batch in this state is over.
func (m Mode) over() bool {
	return m == Complete || m == Stopped || m == Aborted
}

// Scene is what goes on in the kettle, as far as heat and pump depend on it. In
// the zero value neither may run.
type Scene uint8

// The scenes.
const (
	Closed   Scene = iota // nothing that may heat or pump
	Warm                  // strike water, rests, waits
	Hands                 // grain is poured, the bed sets, a bag moves: no heat, no pump
	Turning               // the pump evens out the mash: no heat
	Dripping              // a bag hangs above: gentle heat
	Steaming              // after the lift, the boil: the pump only where it may
	Falling               // the chiller cools: no heat, the pump only where it may
)

// Wish is what a person, or his choice at arming, asked for in this tick.
type Wish uint8

// The wishes that laws know. Clearing is a field of its own.
const (
	Nothing Wish = iota
	Start
	Resume
	TakeUp // an offered batch, by a person
	Alone  // the same by itself, as was chosen at arming
	Stop
	End
	Other
)

// Fact is one tick seen from outside. The zero value heats nothing.
type Fact struct {
	Now     time.Duration   // run clock
	Reading sensors.Reading // newest, raw
	Applied unit.Relay      // what the element's line did since the tick before
	Sure    bool            // that is known, not assumed

	// What the core decided.
	Steered   bool // there was a core; without one only Mode and Wanted say something
	Mode      Mode
	Scene     Scene // Warm where nobody knows
	Wanted    unit.Relay
	Duty      unit.Duty
	Target    unit.Celsius // 0: none
	Pump      unit.Relay
	Announced bool // that the pump will start
	Asked     bool // the question whether grain went in stands
	Blocked   bool // a person keeps the pump off, or the bed rests
	Resting   bool // the bed rests
	Bare      bool // a person has said so of the element

	// What a person declared or asked for.
	Armed     bool
	Lifted    bool
	Volume    unit.Litres // after the lift, cold; 0: not stated
	Statement uint32      // counts the statements
	Drawn     unit.Litres // taken out since then, as was said
	Dry       bool        // a level switch does not say filled
	Wish      Wish
	Accepted  bool // the wish was carried out
	Clear     bool // a person clears trips

	// What stood between the wish for heat and the line.
	Guarded   bool   // there was an interlock; without one the next four say nothing
	Finding   string // of the checks by the model; "": none
	Cut, Trip string // "": none
	Told      bool   // the core was told of a trip
	On        unit.Relay
	Lease     time.Duration // for which On was given
	Contactor unit.Relay    // told to a second contact in series; Off where there is none
}

// Day is what was stated at arming.
type Day struct {
	Hottest    unit.Celsius  // highest target of strike and mash
	Unlifted   bool          // it boils and lifts nothing: the limit of the boil from the beginning
	Boiling    unit.Celsius  // at the site
	Rig        unit.Celsius  // limit of the rig; 0: none
	CoveredAt  unit.Litres   // cold volume that just covers the element
	Power      unit.Watts    // of the element
	LossAtBoil unit.Watts    // through the wall
	LongestOn  time.Duration // heating without a break that the plan can need
	ArmedFor   time.Duration // for which an arming is good
	HasPump    bool
	InBoil     bool // the pump may run in the boil
	Hose       bool // the probe sits in the pump's hose, blind while it stands
	Mechanical bool // the relay wears
}

// Breach is a law that did not hold.
type Breach struct {
	At   time.Duration // run clock
	Law  string
	What string
}

// String is the breach in one line.
func (b Breach) String() string { return b.At.String() + ": " + b.Law + ": " + b.What }
