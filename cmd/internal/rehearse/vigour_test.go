package rehearse

import (
	"cmp"
	"math"
	"slices"
	"sync"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/heat"
	"mashward/profile/plan"
	"mashward/sim"
	"mashward/sim/kettles"
)

// vigourSeeds are the kettles that the vigour is judged on. What the air takes from
// an open surface was chosen on the seeds from 4,000,000 on.
const vigourSeeds = 141_000_000

// evaporated is what a boil took, of what its profile asked for.
type evaporated struct {
	share float64
	seed  uint64
}

// boilOffOf plays the brew day of a random kettle whose boil asks for 35 to 75 %
// of what its element can, and measures what is gone over the last half of the boil. ok is
// false where the plan or the water test is refused, the element is too weak for the
// rate, or the open surface takes nearly as much without boiling.
func boilOffOf(t *testing.T, seed uint64, tuned bool, mains float64) (out evaporated, ok bool) {
	k := kettles.Random(seed)
	rig := RigOf(k, plan.RelayKind(seed/2%2))
	if tuned {
		var err error
		if rig, _, err = TuneRandom(k, rig, seed); err != nil {
			return out, false
		}
	}
	p := FourRests(k)
	able := k.Declared.Power - heat.HoldPower(k.Declared.Loss, k.Declared.Room, 99)
	asked := float64(heat.EvaporationRate(able, 99)) * (0.35 + 0.1*float64(seed%5)) // L/s
	p.Steps = append(p.Steps, profile.Step{Kind: profile.Lift}, profile.Step{Kind: profile.Boil, For: 40 * time.Minute, BoilOff: unit.LitresPerSecond(asked)})
	d, problems := plan.Make(p, rig.PlanKettle())
	if plan.Refused(problems) || d.Steps[len(d.Steps)-1].Duty > 0.9 || float64(d.Boils[0].Steam) < 1.2*float64(k.Plant.Evaporation.LidOff)*9e4 {
		return out, false
	}
	k.Plant.Element.Power *= unit.Watts(mains) // of the day: the water test did not know it
	run := On(rig, p, d, &Simulated{Bench: sim.NewBench(sim.New(k.Plant, k.Load, seed+7), nil, seed)})
	run.Bare, run.Delay = true, time.Minute
	var first, last float64
	var since, until time.Duration
	run.Watchers = append(run.Watchers, watching(func(f *loop.Frame) {
		if f.Decision.Stage != controller.Boil || f.Decision.Earned < 20*time.Minute {
			return
		}
		last, until = float64(run.Kettle.Plant().Truth().Volume), f.Tick.Now
		if since == 0 {
			first, since = last, until
		}
	}))
	if _, err := run.Go(); err != nil {
		t.Error(err)
	}
	if until == since {
		return out, false
	}
	return evaporated{(first - last) / (until - since).Seconds() / asked, seed}, true
}

// TestABoilEvaporatesWhatItsProfileAsksFor: by the truth of random kettles that
// learned their figures in the mash of the same day; untuned, tuned, and tuned with
// mains that are 5 % high on the day, which are a tenth more power.
func TestABoilEvaporatesWhatItsProfileAsksFor(t *testing.T) {
	n := 15
	if *night {
		n = 100
	}
	n = cmp.Or(*campaignDays, n)
	names := [3]string{"untuned", "tuned", "tuned, mains 5 % high on the day"}
	var mu sync.Mutex
	var all [3][]evaporated
	spreadOver(3*n, func(i uint64) {
		which := i % 3
		mains := map[bool]float64{true: 1.1, false: 1}[which == 2]
		e, ok := boilOffOf(t, cmp.Or(*campaignFrom, vigourSeeds)+i/3, which > 0, mains)
		if !ok {
			return
		}
		mu.Lock()
		defer mu.Unlock()
		all[which] = append(all[which], e)
	})
	for which, list := range all {
		if len(list) < n/3 {
			t.Fatalf("%s: %d boils", names[which], len(list))
		}
		slices.SortFunc(list, func(a, b evaporated) int { return cmp.Compare(math.Abs(a.share-1), math.Abs(b.share-1)) })
		off := func(share float64) float64 { return 100 * math.Abs(list[int(share*float64(len(list)-1))].share-1) }
		t.Logf("%s: %d boils, off by %.1f %% in the median, %.1f %% at 90 %%, %.1f %% at most (kettle %d, %.3f of what was asked)",
			names[which], len(list), off(0.5), off(0.9), off(1), list[len(list)-1].seed, list[len(list)-1].share)
		if off(0.5) > 10 || off(1) > 25 {
			t.Errorf("%s: want 10 %% in the median and 25 %% at most", names[which])
		}
	}
}
