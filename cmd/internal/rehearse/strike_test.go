package rehearse

import (
	"path/filepath"
	"testing"

	"mashward/cmd/internal/config"
	"mashward/controller/unit"
	"mashward/sim"
)

// TestStrikeWaterOfAnotherVolume: with water or power far from what was declared
// the slope of the strike heat-up tells, and what rose before it was trusted is put
// right as well. The grain goes into water at most a tenth of a kelvin too hot, and
// no more than 2 % after the moment at which a kettle without any error would be
// ready.
func TestStrikeWaterOfAnotherVolume(t *testing.T) {
	p, rig, d := sample(t, "rye-four-rests.yaml", "yard-kettle.yaml")
	for _, c := range []struct {
		name         string
		water, power float64 // true over declared
	}{
		{"as built", 1, 1},
		{"three tenths less water", 0.7, 1},
		{"a quarter less water", 0.77, 1},
		{"three tenths more water", 1.3, 1},
		{"three tenths less power", 1, 0.7},
		{"three tenths more power", 1, 1.3},
	} {
		params, _, err := config.LoadPlant(filepath.Join(samples, "plants", "yard-kettle-as-built.yaml"), rig.Plant())
		if err != nil {
			t.Fatal(err)
		}
		params.Water.Error += unit.Ratio(c.water - 1)
		params.Element.Power *= unit.Watts(c.power)
		r := Run{Profile: p, Plan: d, Kettle: &Simulated{Bench: sim.NewBench(sim.New(params, config.Load(p), 1), nil, 1)}}
		result, err := r.Go()
		if err != nil {
			t.Fatal(err)
		}
		s := result.Steps[0]
		if s.Reached == nil || s.Overshoot == nil || s.Limit == nil {
			t.Errorf("%s: strike never reached", c.name)
			continue
		}
		t.Logf("%s: %.2f K too hot, ready after %.0f s of %.0f", c.name, *s.Overshoot, *s.Reached, *s.Limit)
		if *s.Overshoot > 0.1 || *s.Reached > 1.02**s.Limit {
			t.Errorf("%s: %.2f K too hot, ready after %.0f s; want at most 0.1 K and 1.02 times %.0f s", c.name, *s.Overshoot, *s.Reached, *s.Limit)
		}
	}
}
