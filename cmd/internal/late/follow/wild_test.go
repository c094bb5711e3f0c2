package follow_test

import (
	"math/rand/v2"
	"testing"
	"time"

	"mashward/cmd/internal/late"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/sim"
	"mashward/sim/fault"
)

// wilds is what a person does on a random day.
type wilds struct {
	random *rand.Rand
	lid    bool
	held   int
	did    int
}

// wild is a random day of the sample rig: kettle, water and room are not quite as
// declared, something may go wrong, and somebody presses what comes to his mind.
func wild(t *testing.T, seed uint64) (*day, *wilds) {
	d, w := sample(t), &wilds{random: rand.New(rand.NewPCG(seed, 11))}
	r := w.random
	d.plant.Element.Power *= unit.Watts(0.85 + 0.25*r.Float64())
	d.plant.Water.Error = unit.Ratio(-0.08 + 0.16*r.Float64())
	d.plant.Water.Temperature += unit.Celsius(-4 + 8*r.Float64())
	d.plant.Site.Room += unit.Celsius(-5 + 10*r.Float64())
	d.slow = []controller.Prompt{controller.AskPour, controller.AskLift, controller.AskDrained, controller.AskHereLidOff, controller.AskChiller}[r.IntN(5)]
	d.by = time.Duration(r.IntN(900)) * time.Second
	kind := []fault.Kind{fault.NoFault, fault.ProbeOpen, fault.SupplySag, fault.ProbeSpike, fault.TickLate}[r.IntN(5)]
	if kind != fault.NoFault {
		f := fault.Default(kind)
		f.At, f.For = fault.Moment{After: time.Duration(r.IntN(7000)) * time.Second}, time.Duration(10+r.IntN(40))*time.Second
		if kind.AtOnce() || kind == fault.TickLate {
			f.For = 0
		}
		d.script = fault.Script{f}
	}
	d.tells = w.tells
	return d, w
}

// tells is what comes to his mind: about every quarter of an hour something.
func (w *wilds) tells(f *loop.Frame, p *sim.Plant) controller.Command {
	r := w.random
	if f.Decision.Mode == controller.Held {
		if w.held++; w.held%60 == 0 {
			return controller.Command{Wish: []controller.Wish{controller.ClearTrip, controller.Resume}[w.held/60%2]}
		}
		return controller.Command{}
	}
	if f.Decision.Mode == controller.Paused && r.IntN(120) == 0 {
		return controller.Command{Wish: controller.Resume}
	}
	if r.IntN(900) != 0 {
		return controller.Command{}
	}
	w.did++
	switch r.IntN(10) {
	case 0:
		return controller.Command{Wish: controller.Pause}
	case 1:
		return controller.Command{Wish: controller.Skip}
	case 2:
		return controller.Command{Wish: controller.StepBack}
	case 3:
		return controller.Command{Wish: controller.Extend, By: time.Duration(1+r.IntN(20)) * time.Minute}
	case 4:
		return controller.Command{Wish: controller.Extend, By: -time.Duration(1+r.IntN(20)) * time.Minute}
	case 5:
		p.Do(sim.Event{Kind: sim.WaterIn, Litres: 1, Temperature: 20})
		return controller.Command{Wish: controller.Added, Volume: 1, At: 20}
	case 6:
		w.lid = !w.lid
		p.Do(sim.Event{Kind: map[bool]sim.Kind{true: sim.LidOff, false: sim.LidOn}[w.lid]})
		return controller.Command{Wish: map[bool]controller.Wish{true: controller.LidOff, false: controller.LidOn}[w.lid]}
	case 7:
		return controller.Command{Wish: controller.RestBed}
	case 8:
		return controller.Command{Wish: controller.UndoSkip}
	}
	return controller.Command{Wish: controller.Stop}
}

func (w *wilds) show(t *testing.T, seed uint64, d *day, a *late.Account) {
	t.Helper()
	if testing.Verbose() {
		t.Logf("day %d, %d presses, %v", seed, w.did, d.loop.State.Mode)
		show(t, "it", d, a)
	}
}
