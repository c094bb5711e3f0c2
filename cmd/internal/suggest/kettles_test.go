package suggest_test

import (
	"flag"
	"math"
	"testing"
	"time"

	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/suggest"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/heat"
	"mashward/profile/plan"
	"mashward/sim"
	"mashward/sim/fault"
	"mashward/sim/kettles"
)

var night = flag.Bool("night", false, "run the campaigns in full: 200 kettles instead of 12")

// firstSeed is that of kettles nobody has looked at while figures were chosen.
const firstSeed = 310_000

// mash is one of four: a strike below 50 °C or above 70, poured at once or after ten
// minutes.
func mash(k kettles.Kettle, seed uint64) (profile.Profile, time.Duration) {
	p := rehearse.FourRests(k)
	if seed%2 == 1 {
		p.Steps[0].Target = 67
		p.Steps = []profile.Step{p.Steps[0], p.Steps[3]}
	}
	return p, time.Duration(seed/2%2) * 10 * time.Minute
}

// brewed is the suggestion after a batch on the kettle of a seed, which its
// owner declares as ever while its element has so much of its power.
func brewed(t *testing.T, seed uint64, power float64, faults *fault.Script) (s suggest.Suggestion, truth float64, err error) {
	t.Helper()
	k := kettles.Random(seed)
	rig := rehearse.RigOf(k, plan.SolidState)
	k.Plant.Element.Power *= unit.Watts(power)
	p, delay := mash(k, seed)
	d, problems := plan.Make(p, rig.PlanKettle())
	if plan.Refused(problems) {
		t.Fatalf("kettle %d: %v", seed, problems)
	}
	var strike suggest.Strike
	kettle := &rehearse.Simulated{Bench: sim.NewBench(sim.New(k.Plant, k.Load, seed), nil, seed)}
	if faults != nil {
		injector := fault.New(*faults, rehearse.FromStart(p)...)
		kettle = &rehearse.Simulated{Bench: sim.NewBench(sim.New(k.Plant, k.Load, seed), injector, seed), Faults: injector}
	}
	run := rehearse.Run{Profile: p, Plan: d, Delay: delay, Kettle: kettle, Watchers: []loop.Watcher{&strike}, Bare: true}
	if _, err := run.Go(); err != nil {
		t.Fatal(err)
	}
	samples, err := strike.Samples()
	if err != nil {
		return s, 0, err
	}
	config := rehearse.Core(p, d)
	capacity := float64(heat.WaterCapacity(k.Load.Water)) + float64(k.Plant.Vessel.Capacity) + float64(k.Plant.Element.Capacity)
	truth = float64(k.Plant.Element.Power) / capacity / (float64(config.Power) / float64(config.LoadWater))
	return suggest.Of(samples, &config), truth, nil
}

func kettleCount() uint64 {
	if *night {
		return 200
	}
	return 12
}

// A kettle that is as declared: power within 2 %, vessel within 10, loss within
// 25. Nothing is suggested after 97 of 100 batches.
func TestAKettleThatIsAsDeclaredGetsNoSuggestion(t *testing.T) {
	t.Parallel()
	n, suggested, unusable := kettleCount(), 0, 0
	worst := 0.0
	for seed := uint64(firstSeed); seed < firstSeed+n; seed++ {
		s, truth, err := brewed(t, seed, 1, nil)
		if err != nil || !s.Found.Accepted() {
			unusable++
			t.Logf("kettle %d: %v, %v", seed, err, s.Found.Reason)
			continue
		}
		worst = math.Max(worst, math.Abs(s.Found.Contradiction/truth-1))
		if s.Differs.Any() {
			suggested++
			t.Logf("kettle %d: %s", seed, s.Text())
		}
	}
	t.Logf("%d batches: %d with a suggestion, %d without a usable heat-up; power over capacity off by %.1f %% at most", n, suggested, unusable, 100*worst)
	if float64(suggested) > 0.03*float64(n) || float64(unusable) > 0.03*float64(n) {
		t.Errorf("%d of %d with a suggestion, %d unusable; want at most 3 %% each", suggested, n, unusable)
	}
}

// An element 15 % off what is declared: after 97 of 100 batches it is said, to
// the right side, and within 3 % of the truth.
func TestAnElementThatIsNotAsDeclaredIsFoundOut(t *testing.T) {
	for name, power := range map[string]float64{"weaker": 0.85, "stronger": 1.15} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			n, found := kettleCount(), 0
			for seed := uint64(firstSeed); seed < firstSeed+n; seed++ {
				s, truth, err := brewed(t, seed, power, nil)
				off := math.Abs(s.Found.Contradiction/truth - 1)
				rightSide := (s.Found.Contradiction > 1) == (power > 1)
				if err == nil && s.Differs.Power && rightSide && off <= 0.03 {
					found++
					continue
				}
				t.Logf("kettle %d: %v; found %.3f, true %.3f, %v, %+v", seed, err, s.Found.Contradiction, truth, s.Found.Reason, s.Differs)
			}
			t.Logf("%d of %d found out", found, n)
			if float64(found) < 0.97*float64(n) {
				t.Errorf("%d of %d found out; want 97 %%", found, n)
			}
		})
	}
}
