package rehearse

import (
	"mashward/cmd/internal/config"
	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/sim"
)

// Believed is a bench whose kettle is as the controller believes its own to be: what
// stands in it, how warm it is on the mean, and how strong the element has shown
// itself. All the rest is as the rig declares, or as such kettles are. A rehearsal
// from that state on, Run.From, is how the day would go on.
func Believed(rig config.Rig, p profile.Profile, d plan.Plan, s *controller.State, seed uint64) *Simulated {
	params := rig.Plant()
	params.Element.Power = d.Kettle.Power
	if gain := s.Law.Gain; gain != 0 {
		params.Element.Power *= unit.Watts(gain)
	}
	plant := sim.New(params, config.Load(p), seed)
	for _, e := range []struct {
		has  bool
		kind sim.Kind
	}{
		{s.GrainIn || s.Lifted, sim.GrainIn}, {s.Lifted, sim.Lift}, {s.Deeds.LidOff, sim.LidOff}, {s.ChillerOn, sim.ChillerOn},
	} {
		if e.has {
			plant.Do(sim.Event{Kind: e.kind})
		}
	}
	at := s.Law.Mean
	if s.Law.Way != controller.Full && s.Law.Way != controller.Coast && s.Filter.Known {
		at = s.Filter.Filtered
	}
	if told := s.Deeds.Added - s.Deeds.Drawn; told >= 0 {
		plant.Do(sim.Event{Kind: sim.WaterIn, Litres: told, Temperature: at})
	} else {
		plant.Do(sim.Event{Kind: sim.WaterOut, Litres: -told})
	}
	plant.Warm(at)
	return &Simulated{Bench: sim.NewBench(plant, nil, seed)}
}

// goingOn is the state for a bench whose run clock begins anew although nothing was cut
// off: the law goes on with what it was doing.
func goingOn(s controller.State) controller.State {
	s.Begun, s.Last = false, 0
	return s
}
