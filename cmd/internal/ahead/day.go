package ahead

import (
	"cmp"
	"slices"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile/plan"
)

// Day is what a forecast needs to know of a batch beside its state.
type Day struct {
	Config controller.Config
	Plan   plan.Plan
	// Pour is how long the grain takes to go in once the water is ready. All else
	// that hands do takes no time: a prompt is answered at once.
	Pour time.Duration
}

// From is how the day goes on from a state. A batch that is paused, held or
// offered is taken to go on now. It is false where no batch is under way, in a
// water test, and where a target is out of reach by what the batch has shown.
func (d *Day) From(s *controller.State) (Forecast, bool) {
	w := d.through(s)
	if w == nil {
		return Forecast{}, false
	}
	return w.out, true
}

// through walks through what is left of the day; nil where nothing can be said.
func (d *Day) through(s *controller.State) *walk {
	if s.Mode == controller.Idle || s.Mode.Ended() || s.Stage == controller.NoStage || d.Config.Test.Rise > 0 {
		return nil
	}
	w := newWalk(d, s)
	stage := s.Stage
	for i := s.Index; i < s.Count && !w.lost; i++ {
		w.step(i, stage)
		stage = controller.NoStage
	}
	if w.lost {
		return nil
	}
	w.need(s.Count-1, "end", w.at)
	w.out.Finish = w.at.span(w.now)
	w.out.Energy = unit.Joules(w.sum.joules)
	w.out.EnergyLow, w.out.EnergyHigh = w.sum.within()
	slices.SortStableFunc(w.out.Moments, func(a, b Moment) int { return cmp.Compare(a.At, b.At) })
	return w
}

// says is the plan's sentence for a moment.
func (d *Day) says(step int, of string) (string, bool) {
	for _, p := range d.Plan.Persons {
		if p.Step == step && p.Of == of {
			return p.What, true
		}
	}
	return "", false
}
