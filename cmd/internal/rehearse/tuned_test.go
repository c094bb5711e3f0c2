package rehearse

import (
	"math"
	"slices"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/profile/plan"
	"mashward/sim"
	"mashward/sim/kettles"
)

// tunedKettle is a kettle of a seed after one water test, no hand tuning: what
// its owner declares, with what the test found in place of power and loss.
type tunedKettle struct {
	kettle kettles.Kettle
	plan   plan.Kettle
	lag    time.Duration
}

// rigOf is the rig file of an owner of this kettle.
func rigOf(k kettles.Kettle, relay plan.RelayKind) config.Rig {
	d := k.Declared
	r := config.Rig{Name: "random kettle",
		Kettle:  config.Kettle{Capacity: d.Capacity, Diameter: d.Diameter, ElementCoveredAt: d.ElementCovered, Vessel: d.Vessel, Loss: d.Loss},
		Element: config.Element{Power: d.Power, Relay: config.Relay{Driver: "sysfs", Line: "1", Type: config.SolidState}},
		Pump:    config.Pump{Relay: config.Relay{Driver: "sysfs", Line: "2"}, InBoil: true},
		Probe:   config.Probe{Driver: "w1", Place: config.Place(map[sim.Place]config.Place{sim.Outlet: config.Outlet, sim.Return: config.Return, sim.Bed: config.Bed}[d.Place]), CoveredAt: d.ProbeCovered},
		Site:    config.Site{Altitude: d.Altitude, Room: d.Room, Tap: d.Tap},
		Bag:     config.Bag{Retention: d.Retention},
	}
	if relay == plan.Mechanical {
		r.Element.Relay.Type = config.Mechanical
	}
	return r
}

// tuneKettle runs the water test on the kettle of a seed, at room temperature.
func tuneKettle(t *testing.T, seed uint64, relay plan.RelayKind) tunedKettle {
	t.Helper()
	k := kettles.Random(seed)
	rig := rigOf(k, relay)
	plant := sim.New(k.Plant, sim.Load{Water: k.Load.Water}, seed+1)
	plant.Warm(k.Plant.Site.Room + 4)
	trial := Trial{Rig: rig, Water: k.Load.Water, Kettle: &Simulated{Bench: sim.NewBench(plant, nil, seed)}}
	out, err := trial.Go()
	if err != nil {
		t.Fatalf("kettle %d: %v", seed, err)
	}
	if !out.Found.Accepted() {
		t.Fatalf("kettle %d: the water test ended %v (%v): %v", seed, out.Mode, out.Reason, out.Found.Reason)
	}
	found := config.TuningOf(rig.Name, k.Load.Water, out.Found.Model, out.Found.Noise, out.Found.Residual, out.Found.Doubt)
	rig = rig.Tuned(found)
	return tunedKettle{kettle: k, plan: rig.PlanKettle(), lag: rig.Lag()}
}

// change makes the plant another than the one that was tuned.
type change struct {
	name string
	do   func(*kettles.Kettle)
}

// run rehearses the four rests on a tuned kettle whose plant was changed since.
func (k tunedKettle) run(t *testing.T, seed uint64, c change) (Result, bool) {
	t.Helper()
	plant := k.kettle
	p := fourRests(plant)
	d, problems := plan.Make(p, k.plan)
	if plan.Refused(problems) {
		t.Fatalf("kettle %d: %v", seed, problems)
	}
	c.do(&plant)
	r := Run{Profile: p, Plan: d, Lag: k.lag, Kettle: &Simulated{Bench: sim.NewBench(sim.New(plant.Plant, plant.Load, seed), nil, seed)}}
	result, err := r.Go()
	if err != nil {
		t.Fatal(err)
	}
	if result.Outcome != "complete" {
		t.Errorf("kettle %d, %s: %s (%s)", seed, c.name, result.Outcome, result.Reason)
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
func study(t *testing.T, relay plan.RelayKind, c change) figuresOf {
	t.Helper()
	var f figuresOf
	for seed := range uint64(60) {
		if r, ok := tuneKettle(t, seed, relay).run(t, seed, c); ok {
			f.add(r)
		}
	}
	return f
}

var asTuned = change{"as tuned", func(*kettles.Kettle) {}}

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
	for _, c := range []change{
		{"volume +30 %", func(k *kettles.Kettle) { k.Plant.Water.Error = 0.3; k.Plant.Vessel.Volume *= 1.5 }},
		{"volume -30 %", func(k *kettles.Kettle) { k.Plant.Water.Error = -0.3 }},
		{"power +30 %", func(k *kettles.Kettle) { k.Plant.Element.Power *= 1.3 }},
		{"power -30 %", func(k *kettles.Kettle) { k.Plant.Element.Power *= 0.7 }},
		{"delays +50 %", func(k *kettles.Kettle) {
			k.Plant.Probe.Lag, k.Plant.Circulation.Delay = k.Plant.Probe.Lag*3/2, k.Plant.Circulation.Delay*3/2
			k.Plant.Circulation.Flow /= 1.5
			k.Plant.Element.Transfer /= 1.5
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
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
		rig := rigOf(k, plan.SolidState)
		tuned := tuneKettle(t, seed, plan.SolidState)
		found := config.Tuning{Name: "x", Power: tuned.plan.Power, Loss: tuned.plan.Loss, Element: 8 * time.Second, Probe: tuned.lag - 8*time.Second}
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
