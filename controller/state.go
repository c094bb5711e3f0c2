package controller

import (
	"time"

	"mashward/controller/modulate"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/sensors/estimate"
)

// Mode is the state of the batch, named as IEC 61512 names procedural states.
type Mode uint8

// The states of a batch. Heat is possible in Running and Paused only.
const (
	Idle Mode = iota
	Running
	Paused   // by a person: clock stopped, temperature kept
	Held     // heat and pump off
	Complete // all steps done
	Stopped  // ended by a person
	Aborted  // ended by a fault, or because nobody came
	Offered  // after a power cut: waiting for a person's word
)

var modeNames = [...]string{"idle", "running", "paused", "held", "complete", "stopped", "aborted", "offered"}

// String is the word of IEC 61512.
func (m Mode) String() string { return named(modeNames[:], int(m)) }

// Heats tells whether the batch may ask for heat at all.
func (m Mode) Heats() bool { return m == Running || m == Paused }

// Ended tells whether the batch is over.
func (m Mode) Ended() bool { return m == Complete || m == Stopped || m == Aborted }

// Reason says why a batch is not running.
type Reason uint8

// The reasons. Those from Stale on are heat cuts that became permanent, or
// trips, as the interlock named them.
const (
	NoReason Reason = iota
	ByOperator
	NobodyCame
	PowerCut
	Stale
	Implausible
	OverTemperature
	NotArmed
	Empty
	OnTooLong
	TickLate
	NotHeating
	HeatingWhileOff
	TooFast
	ProbeOut
	ProbeStuck
	PumpStopped
	EnergyBudget
	Restless // a water test found no rest to begin from
	LineLost // the driver of a line died again and again, and the line is not switched on any more
)

var reasonNames = [...]string{
	"none", "by operator", "nobody came", "power cut", "probe lost", "implausible reading",
	"over-temperature", "not armed", "level too low", "on too long", "tick late", "not heating", "heating while off",
	"heating too fast", "probe out", "probe stuck", "pump stopped", "energy budget", "water not at rest", "relay lost",
}

// String is the reason in words.
func (r Reason) String() string { return named(reasonNames[:], int(r)) }

// Phase is where a step is, in one of six words.
type Phase uint8

// The phases.
const (
	NoPhase Phase = iota
	Heating
	Settling
	Resting
	Waiting // for a person
	Boiling
	Cooling
)

var phaseNames = [...]string{"", "heating", "settling", "resting", "waiting", "boiling", "cooling"}

// String is the phase in one word.
func (p Phase) String() string { return named(phaseNames[:], int(p)) }

// Stage is where inside a step the batch is. Each belongs to certain kinds of
// steps; course.go and boil.go hold the arrows between them.
type Stage uint8

// The stages, in the order of a brew day.
const (
	NoStage Stage = iota
	Heat          // strike, rest, mash-out: on the way to the target
	Ready         // strike, lift: hot, waiting for the person
	Pour          // mash-in: grain goes in; heat and pump off
	Settle        // mash-in: the bed sets; heat and pump off
	Mix           // mash-in: pump on, heat off, until the reading means something
	Count         // rest, mash-in, mash-out, stand: the clock runs
	Hoist         // lift: the bag moves; heat and pump off
	Drain         // lift: the bag hangs clear and drips; gentle heat
	Climb         // boil: on the way to just below the boiling point
	Door          // boil: waiting there for "I am here, lid off"
	Break         // boil: gently through the hot break
	Boil          // boil: the clock runs
	Connect       // chill: waiting for the chiller
	Cool          // stand, chill: on the way down
	Still         // water test: the water comes to rest
	Push          // water test: full power
	Quiet         // water test: left alone
)

var stageNames = [...]string{"", "heat", "ready", "pour", "settle", "mix", "count", "hoist", "drain", "climb", "door", "break", "boil", "connect", "cool", "still", "push", "quiet"}

// String is the stage in one word.
func (s Stage) String() string { return named(stageNames[:], int(s)) }

// State is everything the core remembers: a plain value without pointers, so
// that a checkpoint is one encode. All times in it are lengths, not instants:
// a restart goes on with what was done.
type State struct {
	Mode   Mode
	Reason Reason

	Begun bool          // a first tick has been seen
	Last  time.Duration // run clock of the last tick
	Clock time.Duration // since arming

	Index   uint8 // step
	Stage   Stage
	InStage time.Duration
	InStep  time.Duration

	Steps     [profile.MaxSteps + 1]Step // as edited
	Additions [profile.MaxAdditions]time.Duration
	Called    [profile.MaxAdditions]bool          // that addition has been called out
	In        [profile.MaxAdditions]bool          // a person said that it is in
	CalledAt  [profile.MaxAdditions]time.Duration // time that its step had earned then
	Late      time.Duration                       // what "extend by the delay" adds; 0: nothing to offer
	Count     uint8

	Earned     time.Duration // time that counted in this step
	StoodStill time.Duration // time that did not, once the clock had begun
	Reached    bool          // this step has come to its target
	Cooling    bool          // this step began above its target
	Since      time.Duration // since the grain went in, for counting back

	Load        unit.JoulesPerKelvin // what stands in the kettle now
	Volume      unit.Litres          // declared after lift; 0 before
	Boiled      unit.Joules          // energy that went into evaporation since lift
	Lifted      bool                 // "bag clear" has been pressed
	GrainIn     bool
	Bare        bool          // what was told last leaves the element bare: no heat until a volume that covers it is
	Standing    bool          // the clock of a rest stands because the mash is too cold
	Doubted     bool          // strike water heated otherwise than declared, and it was said
	AskedGrain  bool          // "did grain go in?" stands
	HereFor     time.Duration // how much longer "I am here, lid off" stands
	ChillerHung bool          // hung in, whether its water runs or not
	ColdMetal   time.Duration // how much longer what was hung in cold may hold the boil back
	ChillerOn   bool          // its water runs
	Coldest     time.Duration // for how long it has been said that it gets no colder
	PumpBlocked bool          // "pump off now"
	UnheatedFor time.Duration // how long the pump has stood whose hose the probe sits in, where heat is needed
	PausedFor   time.Duration // how long a person's pause has lasted
	BedRest     time.Duration // what is left of resting the bed
	PumpIn      time.Duration // what is left of the warning before the pump starts
	Pump        unit.Relay
	Unmixed     time.Duration // how much longer it has to run until a reading speaks for the kettle

	Alarms  Alarms
	Plateau Plateau
	Undo    Undo
	Outage  Outage
	Deeds   Deeds

	Filter   estimate.State
	Law      Law
	Sight    Sight
	Modulate modulate.State
	Wished   unit.Relay // what was asked of the element in the last tick
	Withheld bool       // heat was being withheld by a cut in the last tick
}

// Undo keeps what a skip changed, for UndoWithin.
type Undo struct {
	Left       time.Duration // how much longer it can be taken back
	Index      uint8
	Stage      Stage
	InStage    time.Duration
	InStep     time.Duration
	Earned     time.Duration
	StoodStill time.Duration
	Reached    bool
	Cooling    bool
	Plateau    Plateau
}

// Plateau remembers what is needed to see a boil.
type Plateau struct {
	Flat time.Duration // for how long the temperature has stood although heat went in
	Heat float64       // mean duty that really went in of late
	Full bool          // gentle heat did not bring it to the boil: full power
}

// Restarted is the state for a process that begins anew: the run clock starts
// at nothing and the probe is not known yet. What was earned stays.
func (s State) Restarted() State {
	s.Begun, s.Last = false, 0
	s.Filter = estimate.State{}
	s.Law.stop()
	s.Law.Before, s.Deeds.Mixing = Before{}, 0
	s.Sight = Sight{Fitted: s.Sight.Fitted, Filter: s.Sight.Filter} // the mash is the same, where it is now is not known
	s.Pump, s.PumpIn, s.Wished, s.Withheld = unit.Off, 0, unit.Off, false
	s.Unmixed = mostUnmixed // nobody knows for how long it stood
	s.Modulate = modulate.State{}
	return s
}

// Initial is the state before a batch: idle, element off.
func Initial() State { return State{} }

func named(names []string, i int) string {
	if i < len(names) {
		return names[i]
	}
	return "unknown"
}
