package ahead_test

import (
	"math"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/rehearse"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/sim"
)

// The other way to foresee a day is to rehearse what is left of it: the whole loop on
// a bench that is set up as the controller believes its kettle to be. It knows each
// stage of the controller, and as little of the kettle. The closed forms have to
// foresee as well as that, at a thousandth of the time: else it should take their
// place.
func TestTheClosedFormsForeseeAsWellAsARehearsalFromTheMiddle(t *testing.T) {
	n := uint64(1)
	if *night {
		n = 24
	}
	var forms, engine, tookForms, tookEngine float64
	looks := 0
	for seed := uint64(judgedOn); seed < judgedOn+n; seed++ {
		b, err := prepare(seed, rehearse.FourRests)
		if err != nil {
			t.Fatal(err)
		}
		var states []controller.State
		last, due := time.Duration(0), 12*time.Minute
		b.run.Watchers = append(b.run.Watchers, watcher(func(f *loop.Frame) {
			last = f.Decision.Clock
			if last >= due && f.Decision.Mode == controller.Running {
				states, due = append(states, *f.State), due+40*time.Minute
			}
		}))
		if r, err := b.run.Go(); err != nil || r.Outcome != "complete" {
			t.Fatal(err, r.Outcome)
		}
		for i := range states {
			s := &states[i]
			began := time.Now()
			f, ok := b.day.From(s)
			tookForms += time.Since(began).Seconds()
			began = time.Now()
			end, why := rehearsed(b, s)
			tookEngine += time.Since(began).Seconds()
			if !ok || why != "complete" {
				t.Errorf("seed %d at %v: forecast %v, rehearsed to %s", seed, s.Clock, ok, why)
				continue
			}
			forms += math.Abs((f.Finish.At - last).Seconds())
			engine += math.Abs((end - last).Seconds())
			looks++
		}
	}
	k := float64(looks)
	t.Logf("%d looks: off by %.0f s on the mean by closed forms, %.0f s by a rehearsal; %.0f µs and %.0f ms each", looks, forms/k, engine/k, 1e6*tookForms/k, 1e3*tookEngine/k)
	if looks == 0 || forms > 1.25*engine+10*k {
		t.Errorf("a rehearsal foresees better: %.0f s against %.0f s", engine/k, forms/k)
	}
	if tookForms > tookEngine/100 {
		t.Errorf("the closed forms take %.0f µs, a rehearsal %.0f ms", 1e6*tookForms/k, 1e3*tookEngine/k)
	}
}

// rehearsed is when the rest of the day ends on the bench.
func rehearsed(b *brew, s *controller.State) (time.Duration, string) {
	run := rehearse.On(b.rig, b.run.Profile, b.plan, believed(b, s))
	run.Bare, run.From = true, s
	end := time.Duration(0)
	run.Watchers = append(run.Watchers, watcher(func(f *loop.Frame) { end = f.Decision.Clock }))
	r, err := run.Go()
	if err != nil {
		return 0, err.Error()
	}
	return end, r.Outcome
}

// believed is a bench whose kettle is as the controller believes its own to be: what
// stands in it, how warm it is on the mean, and how strong the element has shown
// itself. All the rest is as the rig declares, or as such kettles are. A rehearsal
// from that state on, Run.From, is how the day would go on.
func believed(b *brew, s *controller.State) *rehearse.Simulated {
	params := b.rig.Plant()
	params.Element.Power = b.plan.Kettle.Power
	if gain := s.Law.Gain; gain != 0 {
		params.Element.Power *= unit.Watts(gain)
	}
	plant := sim.New(params, config.Load(b.run.Profile), 1)
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
	return &rehearse.Simulated{Bench: sim.NewBench(plant, nil, 1)}
}
