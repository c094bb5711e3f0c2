package rehearse

import (
	"math"
	"slices"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/controller/observer"
	"mashward/profile/plan"
	"mashward/sim"
	"mashward/sim/kettles"
)

// tunedKettle is a kettle of a seed after one water test, no hand tuning: what
// its owner declares, with what the test found in place of power and loss.
type tunedKettle struct {
	kettle kettles.Kettle
	plan   plan.Kettle
	model  observer.Model
}

// tuneKettle runs the water test on the kettle of a seed, at room temperature.
func tuneKettle(t *testing.T, seed uint64, relay plan.RelayKind) tunedKettle {
	t.Helper()
	k := kettles.Random(seed)
	rig, _, err := TuneRandom(k, RigOf(k, relay), seed)
	if err != nil {
		t.Fatalf("kettle %d: %v", seed, err)
	}
	return tunedKettle{kettle: k, plan: rig.PlanKettle(), model: rig.Model()}
}

// run rehearses the four rests on a tuned kettle whose plant was changed since.
func (k tunedKettle) run(t *testing.T, seed uint64, c Change) (Result, bool) {
	t.Helper()
	plant := k.kettle
	p := FourRests(plant)
	d, problems := plan.Make(p, k.plan)
	if plan.Refused(problems) {
		t.Fatalf("kettle %d: %v", seed, problems)
	}
	c.Do(&plant)
	r := Run{Profile: p, Plan: d, Model: k.model, Kettle: &Simulated{Bench: sim.NewBench(sim.New(plant.Plant, plant.Load, seed), nil, seed)}}
	result, err := r.Go()
	if err != nil {
		t.Fatal(err)
	}
	if result.Outcome != "complete" {
		t.Errorf("kettle %d, %s: %s (%s)", seed, c.Name, result.Outcome, result.Reason)
		return result, false
	}
	return result, true
}

// figuresOf are overshoot, time ratio and hold RMS of the heated rests: first
// the first one, then the later ones.
type figuresOf struct{ over, ratio, rms [2][]float64 }

func (f *figuresOf) add(r Result) {
	for _, s := range r.Steps {
		if s.Index < 2 || s.Overshoot == nil || s.HoldRMS == nil {
			continue
		}
		which := min(s.Index-2, 1)
		f.over[which] = append(f.over[which], *s.Overshoot)
		f.rms[which] = append(f.rms[which], *s.HoldRMS)
		if s.Limit != nil && s.Reached != nil {
			f.ratio[which] = append(f.ratio[which], *s.Reached / *s.Limit)
		}
	}
}

func sorted(of ...[]float64) spread {
	var all spread
	for _, one := range of {
		all = append(all, one...)
	}
	slices.Sort(all)
	return all
}

// study runs the four rests on sixty tuned kettles under one change.
func study(t *testing.T, relay plan.RelayKind, c Change) figuresOf {
	t.Helper()
	var f figuresOf
	for seed := range uint64(60) {
		if r, ok := tuneKettle(t, seed, relay).run(t, seed, c); ok {
			f.add(r)
		}
	}
	return f
}

var asTuned = Change{"as tuned", func(*kettles.Kettle) {}}

// TestSixtyTunedKettles are the goals after one water test, solid-state relay.
func TestSixtyTunedKettles(t *testing.T) {
	f := study(t, plan.SolidState, asTuned)
	judgeSpread(t, "overshoot, K", sorted(f.over[:]...), 0.05, 0.15)
	judgeSpread(t, "time over the limit", sorted(f.ratio[:]...), 1.02, 1.10)
	judgeSpread(t, "hold RMS, K", sorted(f.rms[:]...), 0.015, 0.05)
}

// TestSixtyTunedKettlesWithAMechanicalRelay: the goals have no median here.
func TestSixtyTunedKettlesWithAMechanicalRelay(t *testing.T) {
	f := study(t, plan.Mechanical, asTuned)
	judgeSpread(t, "overshoot, K", sorted(f.over[:]...), math.Inf(1), 0.20)
	judgeSpread(t, "time over the limit", sorted(f.ratio[:]...), math.Inf(1), 1.15)
	judgeSpread(t, "hold RMS, K", sorted(f.rms[:]...), math.Inf(1), 0.06)
}

// TestATunedKettleThatIsAnotherNow: volume or power wrong by 30 %, or all delays
// half as long again. The first heated rest may go astray, the later ones have
// learned.
func TestATunedKettleThatIsAnotherNow(t *testing.T) {
	for _, c := range Changes() {
		t.Run(c.Name, func(t *testing.T) {
			f := study(t, plan.SolidState, c)
			any := math.Inf(1)
			judgeSpread(t, "first overshoot, K", sorted(f.over[0]), any, 0.5)
			judgeSpread(t, "first time over the limit", sorted(f.ratio[0]), any, 1.25)
			judgeSpread(t, "later overshoot, K", sorted(f.over[1]), any, 0.2)
			judgeSpread(t, "later time over the limit", sorted(f.ratio[1]), any, 1.15)
		})
	}
}

// TestTheForeseenOvershootComesTrue: what a test foresees for water is within
// 0.3 K of what a rehearsal on the true kettle shows.
func TestTheForeseenOvershootComesTrue(t *testing.T) {
	for seed := range uint64(12) {
		k := kettles.Random(seed)
		rig := RigOf(k, plan.SolidState)
		tuned := tuneKettle(t, seed, plan.SolidState)
		found := config.Tuning{Name: "x", Power: tuned.plan.Power, Loss: tuned.plan.Loss, Element: 8 * time.Second, Probe: tuned.model.Lag() - 8*time.Second}
		foreseen, err := Foreseen(rig, k.Load.Water, found)
		if err != nil {
			t.Fatal(err)
		}
		result, ok := tuned.run(t, seed, asTuned)
		if !ok {
			continue
		}
		worst := 0.0
		for _, s := range result.Steps[2:] {
			worst = math.Max(worst, *s.Overshoot)
		}
		if miss := math.Abs(worst - float64(foreseen)); miss > 0.3 {
			t.Errorf("kettle %d: foreseen %.2f K, came %.2f K", seed, float64(foreseen), worst)
		}
	}
}
