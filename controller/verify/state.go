package verify

import (
	"time"

	"mashward/controller/observer"
	"mashward/controller/unit"
)

// Kind is what was found. The zero value is nothing.
type Kind uint8

// The findings. The numbers are part of a saved state.
const (
	Nothing         Kind = iota
	NotHeating           // power goes in and no heat comes out
	HeatingWhileOff      // heat comes that was not switched on
	TooFast              // more heat than this load can show: little or nothing in the kettle
	ProbeOut             // the reading falls as nothing in a kettle falls
	ProbeStuck           // the reading stands still to the last digit
	PumpStopped          // the wort does not turn over
	EnergyBudget         // more energy than all that stands there can have taken up
	kinds
)

var kindNames = [kinds]string{
	"", "not-heating", "heating-while-off", "too-fast", "probe-out", "probe-stuck", "pump-stopped", "energy-budget",
}

// String is the id of the rule that the finding belongs to.
func (k Kind) String() string {
	if k < kinds {
		return kindNames[k]
	}
	return "unknown finding"
}

// Figure is what the figures of a finding are of.
type Figure uint8

// The figures.
const (
	OfNothing  Figure = iota
	OfPower           // W: given to the element, and seen
	OfRise            // K within ten seconds: the most, and seen
	OfFall            // the same of a fall
	OfStanding        // s without a change: the most, and seen
	OfEnergy          // J beyond what can be accounted for
	OfWarmth          // °C: the most that all heat put in can have made, and seen
)

// Finding is what was found, with what was to be expected and what came.
type Finding struct {
	Kind     Kind
	Of       Figure
	Expected float64
	Measured float64
}

// ringSize is how many readings the slopes are taken from.
const ringSize = 24

// State is all that is remembered: a plain value.
type State struct {
	Begun bool
	Now   time.Duration // of the last step
	Taken time.Duration // instant of the newest reading taken in
	Quiet time.Duration // how long no reading has come

	Model  observer.State
	Load   unit.JoulesPerKelvin
	Scene  scene
	Blank  time.Duration // what is left of the time in which nothing is judged
	Mixing time.Duration // the same after hands, pump, grain or a chiller moved its contents
	Chills bool          // the chiller ran in the last step
	Warm   time.Duration // what is left of the time in which stored heat may come out

	Told   time.Duration // what is left of the time in which what a person tells excuses nothing more
	Poured time.Duration // what is left of the time in which water that came in excuses nothing

	Leapt  time.Duration   // what is left of the time in which a leap is still the same one
	Jumped uint8           // readings in a row that lie far beside the model
	Recent [3]unit.Celsius // raw, for the median
	Count  uint8

	Short float64 // mean duty of half a minute
	Long  float64 // mean duty of some minutes
	Due   float64 // heat that should have left the element of late, in full powers
	Slow  float64 // the same over some minutes
	Share float64 // power that the model cannot explain, in full powers

	Surplus float64 // power beyond what was said, by a heat-up of water alone, in full powers

	// The sums, s of full power.
	TooMuch float64 // heat beyond what was switched on
	Missing float64 // heat that was switched on and did not come
	Sudden  bool    // it began to be missing while much was switched on
	Chill   float64 // more than all that was given is missing: cold water
	Weak    float64 // the same with a smaller margin: about half of the power

	// In the bed: what the model could not explain in the heat-ups so far, in full powers,
	// over how many s of them, and how much less of the power is seen now, s of it.
	Base, BaseFor, Fell float64

	Ring   [ringSize]float32 // newest readings
	At     uint8
	Filled uint8
	From   unit.Celsius  // where the fall of a probe that is out began
	OutFor time.Duration // since; 0: it is in

	Quick unit.Celsius // reading, smoothed over seconds
	Lazy  unit.Celsius // and over a minute
	Crest unit.Celsius // highest reading since heat began to be missing

	Rising    bool          // the last change of the reading was a rise
	SameFor   time.Duration // the reading has repeated for so long
	Stands    time.Duration // the same, while much heat was given
	Before    float64       // power that the model could not explain when that began
	Noise     float64       // mean square of the change from reading to reading, K²
	Flicker   float64       // share of readings that turned back by some steps of the probe
	LeastStep float64       // smallest change seen, K

	Ceiling unit.Celsius // the most that the reading can have come to by the heat put in
	Above   float64      // s for which it has been above

	Ledger float64      // J put in that nothing accounts for
	Spent  unit.Celsius // reading up to which warmth is accounted for

	Course Course // near the boil

	Half  bool // the warning stands: about half of the power is missing
	Found Finding
	Held  time.Duration // how much longer Found is handed on
}
