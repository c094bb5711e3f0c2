package rehearse

import (
	"math"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/sim"
	"mashward/sim/kettles"
)

// otherGrain is grain that is not as in the profile, and a person who weighs it or
// does not.
type otherGrain struct {
	kettle *Simulated
	mass   unit.Kilograms
	at     unit.Celsius
	told   bool
	landed unit.Celsius
}

func (g *otherGrain) Tells(f *loop.Frame) controller.Command {
	if g.told || f.Decision.Clock < 3*time.Minute {
		return controller.Command{}
	}
	g.told = true
	return controller.Command{Wish: controller.GrainIs, Grain: g.mass, At: g.at}
}

func (g *otherGrain) Watch(f *loop.Frame) {
	d := &f.Decision
	for _, e := range d.Events[:d.Count] {
		if e.Kind == controller.Accepted && controller.Wish(e.Value) == controller.GrainIn {
			g.landed = g.kettle.Mash()
		}
	}
}

// The limit that is set at arming leaves two kelvin above the hottest strike that a
// person's grain may ask for, and the boil is three above it.
func TestTheHottestStrikeLeavesRoomBelowTheLimit(t *testing.T) {
	for seed := range uint64(100) {
		k := kettles.Random(seed)
		rig := RigOf(k, plan.SolidState)
		if seed%3 == 0 {
			rig.Limits.OverTemperature = 84
		}
		p := FourRests(k)
		if seed%2 == 0 {
			p.Steps = append(p.Steps, profile.Step{Kind: profile.Lift}, profile.Step{Kind: profile.Boil, For: time.Hour})
		} else {
			p.Steps[0].Target = 75 // and so hot a strike that it comes near the boil
		}
		d, _ := plan.Make(p, rig.PlanKettle())
		c, limits := Core(p, d), Limits(p, d)
		limit := limits.InForce(true, interlock.Mash)
		if c.StrikeMost > limit.Plus(-2) || c.StrikeMost > c.Boiling.Plus(-3) || c.StrikeMost < 70 {
			t.Errorf("kettle %d: strike up to %.2f °C below a limit of %.2f °C", seed, float64(c.StrikeMost), float64(limit))
		}
	}
}

// Grain that is a tenth more or less than in the profile and up to 12 K colder or
// warmer: the mash lands within 0.3 K of its temperature where it was told, which is
// what is asked of grain as planned, and beside it where it was not.
func TestGrainThatWasWeighedLandsWhereItWasToLand(t *testing.T) {
	n := uint64(8)
	if *night {
		n = 80
	}
	worst, missed, refused := 0.0, 0.0, 0
	for seed := uint64(480_000); seed < 480_000+n; seed++ {
		k := kettles.Random(seed)
		p := FourRests(k)
		p.Steps = p.Steps[:2]
		p.Steps[1].For = time.Minute
		d, problems := plan.Make(p, RigOf(k, plan.SolidState).PlanKettle())
		if plan.Refused(problems) {
			t.Fatal(problems)
		}
		share, off := 0.9, unit.Kelvin(12)
		if seed%2 == 0 {
			share, off = 1.1, -12
		}
		for _, told := range []bool{true, false} {
			load := k.Load
			load.Grain *= unit.Kilograms(share)
			load.GrainTemperature = max(2, load.GrainTemperature.Plus(off))
			g := &otherGrain{kettle: &Simulated{Bench: sim.NewBench(sim.New(k.Plant, load, seed), nil, seed)}, mass: load.Grain, at: load.GrainTemperature, told: !told}
			run := On(RigOf(k, plan.SolidState), p, d, g.kettle)
			run.Bare, run.Tells, run.Watchers = true, g.Tells, []loop.Watcher{g}
			if _, err := run.Go(); err != nil {
				t.Fatal(err)
			}
			beside := math.Abs(float64(g.landed - 44))
			switch {
			case g.landed == 0:
				refused++
			case told:
				worst = math.Max(worst, beside)
			default:
				missed = math.Max(missed, beside)
			}
		}
	}
	t.Logf("%d kettles: told within %.2f K, untold up to %.2f K beside", n, worst, missed)
	if worst > 0.3 || missed < 0.3 || refused > 0 {
		t.Errorf("told within %.2f K, untold %.2f K beside, %d never poured", worst, missed, refused)
	}
}
