package rehearse

import (
	"testing"

	"mashward/profile/plan"
	"mashward/sim"
)

// TestTheHotSideIsKept: with a ceiling of 0.8 K for the wort at the element,
// tuned kettles with a probe there keep it within 0.3 K more (what the probe
// lags) in every heated rest, and take at most a quarter longer.
func TestTheHotSideIsKept(t *testing.T) {
	tried, hottest, slowest, free := 0, 0.0, 0.0, 0.0
	for seed := range uint64(40) {
		k := tuneKettle(t, seed, plan.SolidState)
		if k.kettle.Plant.Probe.Place != sim.Outlet {
			continue
		}
		tried++
		without, _ := k.run(t, seed, asTuned)
		k.plan.HotSide = 0.8
		with, ok := k.run(t, seed, asTuned)
		if !ok {
			continue
		}
		for i, s := range with.Steps {
			if s.Index < 2 || s.HotSide == nil || s.Limit == nil || s.Reached == nil {
				continue
			}
			free = max(free, *without.Steps[i].HotSide)
			hottest = max(hottest, *s.HotSide)
			slowest = max(slowest, *s.Reached / *s.Limit)
			if *s.HotSide > 1.1 {
				t.Errorf("kettle %d, step %d: %.2f K at the element above its target; want at most 1.1 K", seed, s.Index, *s.HotSide)
			}
			if q := *s.Reached / *s.Limit; q > 1.25 {
				t.Errorf("kettle %d, step %d: %.2f times the limit; want at most 1.25", seed, s.Index, q)
			}
		}
	}
	t.Logf("%d kettles: hot side %.2f K at most, %.2f K without the ceiling; %.2f times the limit at most", tried, hottest, free, slowest)
	if tried < 10 || free < 1.1 {
		t.Errorf("%d kettles with %.2f K prove nothing", tried, free)
	}
}
