package controller

import (
	"time"

	"mashward/controller/unit"
)

// The water test finds out about a kettle what no plate says: how strong the
// element is, what the kettle loses, how late the probe answers. It is a batch
// of its own kind, through the same loop and interlock:
//
//	still ──water at rest──> push ──+8 K──> quiet ──15 min──> complete
//
// Pump on throughout. It ends held, element off, where the water does not warm
// as it must.
//
// Relay feedback is not used: a kettle cannot cool, and the asymmetry makes
// every figure of such a test wrong.

// WaterTest are the figures of a test. The zero value is no test.
type WaterTest struct {
	Rise  unit.Kelvin   // how far the water is heated
	Quiet time.Duration // how long it is then left alone
}

// DefaultTest heats by 8 K and watches for 15 min.
func DefaultTest() WaterTest { return WaterTest{Rise: 8, Quiet: 15 * time.Minute} }

// Figures of the test.
const (
	// stillFor is how long the water is watched before the element comes on.
	stillFor = 90 * time.Second
	// stillMost ends a wait for water that does not come to rest.
	stillMost = 10 * time.Minute
	// stillDrift is a slope that counts as rest, K/s: 0.1 K in a minute.
	stillDrift = 0.1 / 60
	// pushLate: by then the reading must have risen by pushLeast.
	pushLate              = 5 * time.Minute
	pushLeast unit.Kelvin = 0.5
	// A slow kettle need not come all the way: the whole test shall take no
	// longer than 35 min.
	pushEnough             = 17 * time.Minute
	pushFair   unit.Kelvin = 6
	// pushMost ends a test that takes too long.
	pushMost = 45 * time.Minute
)

// inTest tells that a water test runs.
func (r *round) inTest() bool { return r.c.Test.Rise > 0 }

// beginTest enters the test's first stage.
func (r *round) beginTest() {
	r.event(StepStarted, 0)
	r.goTo(Still)
}

// waterTest moves a test through its stages.
func (r *round) waterTest() {
	s := r.s
	switch s.Stage {
	case Still:
		slope, known := s.Filter.SlopeOver(time.Minute)
		rests := known && slope < stillDrift && slope > -stillDrift
		if r.e.Valid && rests && s.InStage >= stillFor {
			s.Law.Origin = r.e.Value
			r.goTo(Push)
		} else if s.InStage >= stillMost {
			r.enterMode(Stopped, Restless)
		}
	case Push:
		r.push()
	default:
		if s.InStage >= r.c.Test.Quiet {
			r.event(StepEnded, s.InStep.Seconds())
			r.enterMode(Complete, NoReason)
		}
	}
}

// push heats until the water is warm enough, or ends a test that cannot be one.
func (r *round) push() {
	s := r.s
	rise := r.e.Value.Minus(s.Law.Origin)
	switch {
	case !r.e.Valid:
	case rise >= r.c.Test.Rise, s.InStage >= pushEnough && rise >= pushFair:
		r.reached()
		r.goTo(Quiet)
	case s.InStage >= pushLate && rise < pushLeast:
		r.enterMode(Held, NotHeating)
	case s.InStage >= pushMost:
		r.enterMode(Held, NotHeating)
	}
}

// Ahead is how long a test still takes, in its present stage and in all, as far
// as can be told: rise is what has been gained since full power began, rate
// what it gains a second at full power, measured or guessed. The water may need
// longer to come to rest than the least, which is what counts here.
func (t WaterTest) Ahead(stage Stage, in time.Duration, rise unit.Kelvin, rate unit.KelvinPerSecond) (here, all time.Duration) {
	switch stage {
	case Still:
		here = max(0, stillFor-in)
		return here, here + t.heating(0, 0, rate) + t.Quiet
	case Push:
		here = t.heating(in, rise, rate)
		return here, here + t.Quiet
	case Quiet:
		here = max(0, t.Quiet-in)
		return here, here
	}
	return 0, 0
}

// heating is how much longer full power goes on, by the rules of push.
func (t WaterTest) heating(in time.Duration, rise unit.Kelvin, rate unit.KelvinPerSecond) time.Duration {
	most := max(0, pushMost-in)
	if !(rate > 0) {
		return most
	}
	until := func(goal unit.Kelvin) time.Duration {
		seconds := min(max(0, float64(goal-rise)/float64(rate)), most.Seconds())
		return time.Duration(seconds * float64(time.Second)).Round(time.Second)
	}
	return min(until(t.Rise), max(until(pushFair), pushEnough-in))
}
