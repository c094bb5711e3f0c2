package daemon

import (
	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/say"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/profile/plan"
)

// regrained is the batch with its grain as it was weighed: the plan that people look
// at is worked out anew. What the batch runs with stays as it was armed; its core has
// taken the same word.
func (b *Batch) regrained(g controller.Regrain, s *controller.State, k plan.Kettle) *Batch {
	c := *b
	c.Profile.Grain.Mass, c.Profile.Grain.Temperature = g.Mass, g.At
	c.Plan, _ = plan.Make(c.Profile, k)
	c.Say = say.Day{Profile: c.Profile, Config: rehearse.Core(c.Profile, c.Plan)}
	c.Say.Config.Steps[0].Target = s.Steps[0].Target
	return &c
}

// regrain follows a person who has weighed the grain, and a strike that was moved by
// what he told.
func (d *Daemon) regrain(f *loop.Frame) {
	g := f.State.Deeds.Grain
	if d.batch == nil || g.Mass == 0 {
		return
	}
	for _, e := range f.Decision.Events[:f.Decision.Count] {
		if e.Kind == controller.StrikeMoved {
			d.batch = d.batch.regrained(g, f.State, d.o.Rig.PlanKettle())
		}
	}
}
