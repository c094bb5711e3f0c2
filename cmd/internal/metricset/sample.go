package metricset

import (
	"math"
	"time"

	"mashward/cmd/internal/late"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/unit"
	"mashward/profile"
)

// rules is the number of the interlock's rules, NoRule included.
const rules = int(interlock.EnergyBudget) + 1

// Sample is everything the metrics tell about one instant. The zero Sample
// knows nothing: no gauge of the present is made of it, and the probe is down.
type Sample struct {
	Live  bool // a tick has been seen, and it is the present
	Ticks uint64
	Batch *Batch // that runs, or ran last; nil without one

	probe struct {
		up       bool
		value    unit.Celsius
		failures [reasonCount]uint64
	}
	element struct {
		applied  unit.Relay
		on       time.Duration
		closings uint64
		power    unit.Watts // declared
	}
	rest struct {
		cold, hot time.Duration
	}
	kettle present
	late   struct {
		known bool
		total time.Duration
		by    [late.Causes]time.Duration
	}
	steps [profile.MaxSteps + 1]step
	count uint8 // of steps; 0 between batches
	cuts  [rules]bool
	trips [rules]bool
}

// present is what is so now in the batch.
type present struct {
	decision controller.Decision
	ceiling  unit.KelvinPerSecond // 0: none
	waiting  time.Duration        // since the question was put
}

// step is how one step goes.
type step struct {
	kind      profile.Kind
	none      bool // there is no such step: a day without strike water
	seen      bool // it has begun
	judged    bool // above is known
	above     bool // it began above its target
	heating   time.Duration
	earned    time.Duration
	overshoot unit.Kelvin
	squares   float64 // sum of squared deviations, K²s
	seconds   float64 // they were summed over
}

// rms is the root mean square deviation in the second half of the rest, and
// whether that has begun.
func (s *step) rms() (unit.Kelvin, bool) {
	if s.seconds <= 0 {
		return 0, false
	}
	return unit.Kelvin(math.Sqrt(s.squares / s.seconds)), true
}

// under tells whether a batch is under way.
func under(m controller.Mode) bool { return m != controller.Idle && !m.Ended() }

// timed tells whether steps of this kind have a time of their own to earn.
func timed(k profile.Kind) bool {
	switch k {
	case profile.MashIn, profile.Rest, profile.MashOut, profile.Boil, profile.Stand:
		return true
	case profile.Strike, profile.Lift, profile.Chill:
	}
	return false
}

// rests tells whether the temperature of the mash is what the step is about.
func rests(k profile.Kind) bool {
	return k == profile.MashIn || k == profile.Rest || k == profile.MashOut
}

// heated tells whether steps of this kind begin with a heat-up.
func heated(k profile.Kind) bool {
	switch k {
	case profile.Strike, profile.Rest, profile.MashOut, profile.Boil:
		return true
	case profile.MashIn, profile.Lift, profile.Stand, profile.Chill:
	}
	return false
}

// overshoots tells whether going above the target of such a step is a fault.
func overshoots(k profile.Kind) bool { return k == profile.Strike || rests(k) }
