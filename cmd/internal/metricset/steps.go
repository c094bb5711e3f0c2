package metricset

import (
	"time"

	"mashward/controller"
	"mashward/controller/loop"
)

// steps follows how the steps go: what the batch says of them, and what can be
// measured on the way.
func (t *Tracker) steps(f *loop.Frame, dt time.Duration) {
	s, d := &t.sample, &f.Decision
	s.count = f.State.Count
	for _, e := range d.Events[:d.Count] {
		switch e.Kind {
		case controller.BatchStarted:
			s.steps = [len(s.steps)]step{}
		case controller.StepStarted:
			s.steps[e.Step] = step{} // it may be repeated
		case controller.StepEnded:
			s.steps[e.Step].earned = time.Duration(e.Value * float64(time.Second))
		}
	}
	for i := range s.steps[:s.count] {
		edited := &f.State.Steps[i]
		s.steps[i].kind, s.steps[i].none = edited.Kind, *edited == controller.Step{}
	}
	if !under(d.Mode) {
		return
	}
	now := &s.steps[d.Index]
	now.seen = true
	if timed(d.Kind) {
		now.earned = d.Earned
	}
	if d.Mode == controller.Running {
		now.run(d, dt)
		t.outOfBand(f, dt)
	}
}

// run measures one tick of a running step.
func (s *step) run(d *controller.Decision, dt time.Duration) {
	if d.Phase == controller.Heating && !d.Reached {
		s.heating += dt
	}
	if !d.HasEstimate || !d.HasTarget || !overshoots(d.Kind) {
		return
	}
	over := d.Estimate.Minus(d.Target)
	if !s.judged {
		s.judged, s.above = true, over > 0
	}
	if !s.above || d.Reached {
		s.overshoot = max(s.overshoot, over)
	}
	// The first half is the settling of the heat-up; what is left tells how
	// the temperature is held.
	if rests(d.Kind) && d.Phase == controller.Resting && d.Earned >= d.Left {
		s.squares += float64(over) * float64(over) * dt.Seconds()
		s.seconds += dt.Seconds()
	}
}

// outOfBand adds up the time in which a rest is too cold or too hot.
func (t *Tracker) outOfBand(f *loop.Frame, dt time.Duration) {
	d := &f.Decision
	if !rests(d.Kind) || d.Phase != controller.Resting || !d.HasEstimate {
		return
	}
	over := d.Estimate.Minus(d.Target)
	if over < -f.State.Steps[d.Index].Floor {
		t.sample.rest.cold += dt
	}
	if over > controller.HotBand {
		t.sample.rest.hot += dt
	}
}
