package rehearse

import (
	"testing"
	"time"

	"mashward/profile"
	"mashward/profile/plan"
	"mashward/sim"
	"mashward/sim/kettles"
)

// Strike water for a time of day is begun by plan and rehearsal, and a margin before
// them. On the day the mains are 5 % low and the kettle is one that nobody has tuned:
// it is ready in time on nineteen of twenty. The margin was chosen on seeds 600 to 899.
func TestTheMarginBeforeStrikeWaterCoversLowMains(t *testing.T) {
	many, late := uint64(20), 0
	if *night {
		many = 300
	}
	var used, spare spread
	for seed := uint64(1000); seed < 1000+many; seed++ {
		k := kettles.Random(seed)
		p := FourRests(k)
		p.Steps = []profile.Step{{Kind: profile.MashIn, Target: 63, For: time.Minute, Floor: 1}}
		d, problems := plan.Make(p, declared(k, plan.SolidState))
		if plan.Refused(problems) {
			continue
		}
		strike := func(plant sim.Params) time.Duration {
			r := Run{Profile: p, Plan: d, Kettle: &Simulated{Bench: sim.NewBench(sim.New(plant, k.Load, seed), nil, seed)}}
			result, err := r.Go()
			if err != nil || result.Outcome != "complete" {
				t.Fatal(seed, result.Outcome, result.Reason, err)
			}
			return time.Duration(result.Steps[0].End * float64(time.Second))
		}
		needs, _ := d.Lead()
		rig := RigOf(k, plan.SolidState)
		needs = max(needs, strike(rig.Plant())) // the rehearsal knows what is declared
		real := k.Plant
		real.Element.Power *= 0.95 * 0.95
		ready := strike(real)
		margin := plan.Margin(needs)
		if ready > needs+margin {
			late++
			t.Logf("kettle %d: %v late: needs %v, took %v", seed, ready-needs-margin, needs, ready)
		}
		used, spare = append(used, float64(ready-needs)/float64(margin)), append(spare, (needs+margin-ready).Minutes())
	}
	used, spare = sorted(used), sorted(spare)
	t.Logf("%d kettles, %d late; of the margin is used: median %.2f, most %.2f; early by %.0f min at most", len(used), late, used.median(), used.worst(), spare.worst())
	if late*20 > len(used) {
		t.Errorf("%d of %d are late", late, len(used))
	}
}
