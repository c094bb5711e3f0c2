package rehearse

import (
	"fmt"
	"math"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/heat"
	"mashward/profile/plan"
	"mashward/sim"
	"mashward/sim/kettles"
)

// deed is water that goes into a kettle, or out of it, some time into a step, and
// what a person says of it.
type deed struct {
	step   uint8
	after  time.Duration // since the step was reached
	litres unit.Litres   // warm; negative: out
	at     unit.Celsius
	told   time.Duration // how long after it happened he says so; negative: before
	silent bool          // he says nothing
}

// after is what became of it.
type after struct {
	back   time.Duration // until the mash was within 0.3 K of where it had been, for good
	over   float64       // K above where it had been
	before float64       // K that the mean which the law acts on was off the mash, before
	mean   float64       // the same a minute after both deed and word
	trips  int
	cuts   int
}

// doing carries out a deed on the plant, says it, and looks what comes of it.
type doing struct {
	deed
	kettle  *Simulated
	reached time.Duration
	done    time.Duration // run clock; 0: not yet
	said    bool
	rest    float64 // mean of mash less target in the two minutes before
	n       int
	after
}

const settled = 0.3 // K

// Tells is the person's part.
func (w *doing) Tells(f *loop.Frame) controller.Command {
	when := w.reached + w.deed.after + w.told
	if w.silent || w.said || w.reached == 0 || f.Tick.Now < when {
		return controller.Command{}
	}
	w.said = true
	if w.litres < 0 {
		return controller.Command{Wish: controller.TookOut, Volume: -w.litres}
	}
	return controller.Command{Wish: controller.Added, Volume: w.litres, At: w.at}
}

// Watch is the water's part and the judge's.
func (w *doing) Watch(f *loop.Frame) {
	d, now := &f.Decision, f.Tick.Now
	if d.Index == w.step && d.Reached && w.reached == 0 {
		w.reached = now
	}
	if w.reached == 0 || d.Index != w.step {
		return
	}
	off := float64(w.kettle.Mash() - d.Target)
	since := now - w.reached - w.deed.after
	switch first := min(0, w.told); {
	case since < first && since >= first-2*time.Minute:
		w.rest += (off - w.rest) / float64(w.n+1)
		w.n++
		w.before = float64(meanOf(f) - w.kettle.Mash())
	case since >= 0 && w.done == 0:
		w.done = now
		w.pour()
	}
	if w.done == 0 {
		return
	}
	if math.Abs(off-w.rest) > settled {
		w.back = now - w.done
	}
	w.over = math.Max(w.over, off-w.rest)
	if since == max(0, w.told)+time.Minute {
		w.mean = float64(meanOf(f) - w.kettle.Mash())
	}
}

func (w *doing) pour() {
	p, cold := w.kettle.Bench.Plant(), heat.ColdFrom(w.litres, w.at)
	if w.litres < 0 {
		p.Do(sim.Event{Kind: sim.WaterOut, Litres: heat.ColdFrom(-w.litres, p.Mash())})
		return
	}
	p.Do(sim.Event{Kind: sim.WaterIn, Litres: cold, Temperature: w.at})
}

// meanOf is the mean that the law acts on.
func meanOf(f *loop.Frame) unit.Celsius {
	if f.State.Sight.Trusted {
		return f.State.Sight.Mean
	}
	return f.State.Law.Mean
}

// mashed is the profile of these days: long rests, and a lift.
func mashed(k kettles.Kettle) profile.Profile {
	p := FourRests(k)
	for i := range p.Steps[1:3] {
		p.Steps[i+1].For = 55 * time.Minute
	}
	return p
}

// day runs a day with a deed on a kettle.
func (d deed) day(t *testing.T, rig config.Rig, p profile.Profile, plant sim.Params, load sim.Load, seed uint64) after {
	t.Helper()
	day, problems := plan.Make(p, rig.PlanKettle())
	if plan.Refused(problems) {
		t.Fatal(problems)
	}
	w := &doing{deed: d, kettle: &Simulated{Bench: sim.NewBench(sim.New(plant, load, seed), nil, seed)}}
	run := On(rig, p, day, w.kettle)
	run.Tells, run.Watchers = w.Tells, []loop.Watcher{w}
	result, err := run.Go()
	if err != nil {
		t.Fatal(err)
	}
	if w.done == 0 || !d.silent && !w.said {
		t.Fatalf("%+v: nothing was done, or said: %s (%s)", d, result.Outcome, result.Reason)
	}
	w.trips, w.cuts = len(result.Trips), len(result.Cuts)
	if w.trips > 0 {
		t.Log(result.Trips, result.Cuts, result.Reason)
	}
	return w.after
}

func (a after) String() string {
	return fmt.Sprintf("back after %4.0f s, over by %5.2f K, mean off %+.2f (before %+.2f) K, trips %d, cuts %d", a.back.Seconds(), a.over, a.mean, a.before, a.trips, a.cuts)
}

func TestDeedStudy(t *testing.T) {
	for _, seed := range []uint64{3, 7, 11, 19} {
		k := kettles.Random(seed)
		p := mashed(k)
		for _, tuned := range []bool{false, true} {
			rig := RigOf(k, plan.SolidState)
			if tuned {
				var err error
				if rig, _, err = TuneRandom(k, rig, seed); err != nil {
					t.Fatal(err)
				}
			}
			t.Logf("kettle %d, %.0f L, %.0f W, tuned %v", seed, k.Load.Water, k.Plant.Element.Power, tuned)
			for _, step := range []uint8{2, 3} {
				for _, c := range []deed{
					{litres: 2, at: 60}, {litres: k.Load.Water / 10, at: 12}, {litres: -3},
				} {
					c.step, c.after = step, 20*time.Minute
					c.silent = true
					t.Logf("  step %d %+5.1f L at %2.0f silent %v", step, c.litres, c.at, c.day(t, rig, p, k.Plant, k.Load, seed))
					c.silent = false
					for _, told := range []time.Duration{0, 2 * time.Minute, -2 * time.Minute} {
						c.told = told
						t.Logf("  step %d %+5.1f L at %2.0f %+4.0fs   %v", step, c.litres, c.at, told.Seconds(), c.day(t, rig, p, k.Plant, k.Load, seed))
					}
				}
			}
		}
	}
}
