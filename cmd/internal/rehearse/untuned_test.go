package rehearse

import (
	"cmp"
	"math"
	"slices"
	"testing"

	"mashward/profile"
	"mashward/profile/plan"
	"mashward/sim"
	"mashward/sim/kettles"
)

// declared is what an owner would write in a rig file.
func declared(k kettles.Kettle, relay plan.RelayKind) plan.Kettle {
	d := k.Declared
	place := map[sim.Place]plan.Place{sim.Outlet: plan.Outlet, sim.Return: plan.Return, sim.Bed: plan.Bed}[d.Place]
	return plan.Kettle{
		Capacity: d.Capacity, Diameter: d.Diameter, ElementCoveredAt: d.ElementCovered, Vessel: d.Vessel,
		Loss: d.Loss, Power: d.Power, Relay: relay, Pump: true, InBoil: true, Probe: place, ProbeCoveredAt: d.ProbeCovered,
		Altitude: d.Altitude, Room: d.Room, Tap: d.Tap, Retention: d.Retention,
	}
}

// rested is how the rests of one kettle went.
type rested struct {
	seed                       uint64
	overshoot, ratio, rms      []float64
	landing                    float64 // true mash less target at the moment the grain was in
	switches, cuts, trips      int
	outcome                    string
	operationsAnHour, duration float64
}

// runFourRests rehearses the four rests on the kettle of a seed.
func runFourRests(t *testing.T, seed uint64, relay plan.RelayKind) rested {
	t.Helper()
	k := kettles.Random(seed)
	p := FourRests(k)
	d, problems := plan.Make(p, declared(k, relay))
	if plan.Refused(problems) {
		t.Fatalf("kettle %d: the plan refuses a day of the domain: %v", seed, problems)
	}
	r := Run{Profile: p, Plan: d, Kettle: &Simulated{Bench: sim.NewBench(sim.New(k.Plant, k.Load, seed), nil, seed)}}
	result, err := r.Go()
	if err != nil {
		t.Fatalf("kettle %d: %v", seed, err)
	}
	out := rested{
		seed: seed, outcome: result.Outcome, switches: result.Switches, cuts: len(result.Cuts), trips: len(result.Trips),
		operationsAnHour: float64(result.Switches) / result.Duration * 3600, duration: result.Duration,
	}
	for i, s := range result.Steps {
		if s.kind == profile.MashIn {
			out.landing = r.witness.judge.at(r.witness.judge.steps[i].start) - s.target
		}
		if s.kind != profile.Rest && s.kind != profile.MashOut {
			continue
		}
		if s.Reached == nil || s.Overshoot == nil || s.HoldRMS == nil {
			t.Errorf("kettle %d: step %d was never reached", seed, s.Index)
			continue
		}
		out.overshoot = append(out.overshoot, *s.Overshoot)
		out.rms = append(out.rms, *s.HoldRMS)
		if s.Limit != nil {
			out.ratio = append(out.ratio, *s.Reached / *s.Limit)
		}
	}
	return out
}

// spread is a sorted set of figures.
type spread []float64

func (s spread) median() float64 { return s[len(s)/2] }
func (s spread) worst() float64  { return s[len(s)-1] }

// gather sorts one figure of all kettles.
func gather(all []rested, of func(rested) []float64) spread {
	var s spread
	for _, r := range all {
		s = append(s, of(r)...)
	}
	slices.Sort(s)
	return s
}

// TestSixtyUntunedKettlesHoldTheirRests is the goal for a kettle of which only
// power, volume and place are declared: 60 random kettles over the domain.
func TestSixtyUntunedKettlesHoldTheirRests(t *testing.T) {
	all := make([]rested, 0, 60)
	for seed := range uint64(60) {
		r := runFourRests(t, seed, plan.SolidState)
		if r.outcome != "complete" || r.cuts+r.trips > 0 {
			t.Errorf("kettle %d: %s with %d cuts and %d trips; want complete with none", seed, r.outcome, r.cuts, r.trips)
		}
		if math.Abs(r.landing) > 0.3 {
			t.Errorf("kettle %d: the mash lands %+.2f K beside its target when the grain is in; want within 0.3 K", seed, r.landing)
		}
		all = append(all, r)
	}
	judgeSpread(t, "overshoot, K", gather(all, func(r rested) []float64 { return r.overshoot }), 0.3, 1.5)
	judgeSpread(t, "hold RMS, K", gather(all, func(r rested) []float64 { return r.rms }), 0.15, 0.8)
	judgeSpread(t, "time over the limit", gather(all, func(r rested) []float64 { return r.ratio }), 1.2, 2.5)
}

// TestSixtyUntunedKettlesWithAMechanicalRelay holds the same goals and spares
// the relay.
func TestSixtyUntunedKettlesWithAMechanicalRelay(t *testing.T) {
	all := make([]rested, 0, 60)
	for seed := range uint64(60) {
		r := runFourRests(t, seed, plan.Mechanical)
		if r.outcome != "complete" || r.cuts+r.trips > 0 {
			t.Errorf("kettle %d: %s with %d cuts and %d trips; want complete with none", seed, r.outcome, r.cuts, r.trips)
		}
		all = append(all, r)
	}
	judgeSpread(t, "overshoot, K", gather(all, func(r rested) []float64 { return r.overshoot }), 0.3, 1.5)
	judgeSpread(t, "hold RMS, K", gather(all, func(r rested) []float64 { return r.rms }), 0.15, 0.8)
	judgeSpread(t, "time over the limit", gather(all, func(r rested) []float64 { return r.ratio }), 1.2, 2.5)
	busiest := slices.MaxFunc(all, func(a, b rested) int { return cmp.Compare(a.operationsAnHour, b.operationsAnHour) })
	t.Logf("busiest relay: %.0f closings an hour (kettle %d)", busiest.operationsAnHour, busiest.seed)
	if busiest.operationsAnHour > 180 {
		t.Errorf("kettle %d: %.0f closings an hour; want at most 180", busiest.seed, busiest.operationsAnHour)
	}
}

func judgeSpread(t *testing.T, what string, s spread, median, worst float64) {
	t.Helper()
	t.Logf("%s: median %.3f, worst %.3f (goal %.2f and %.2f, %d rests)", what, s.median(), s.worst(), median, worst, len(s))
	if s.median() > median {
		t.Errorf("%s: median %.3f; want at most %.2f", what, s.median(), median)
	}
	if s.worst() > worst {
		t.Errorf("%s: worst %.3f; want at most %.2f", what, s.worst(), worst)
	}
}
