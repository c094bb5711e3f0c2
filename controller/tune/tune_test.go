package tune_test

import (
	"fmt"
	"math"
	"os"
	"slices"
	"testing"
	"time"

	"mashward/controller/tune"
	"mashward/controller/unit"
	"mashward/profile/heat"
	"mashward/sim"
	"mashward/sim/kettles"
)

// waterTest runs the test on a plant: a minute of rest, full power for 8 K,
// fifteen minutes of quiet, pump on.
func waterTest(p *sim.Plant, seed uint64, spoil func(second int, b *sim.Bench)) []tune.Sample {
	b := sim.NewBench(p, nil, seed)
	var out []tune.Sample
	from, until := math.NaN(), 0
	heating := false
	for t := 0; t < 5400; t++ {
		if spoil != nil {
			spoil(t, b)
		}
		b.Pump().Hold(unit.On, 3*time.Second)
		if heating {
			b.Element().Hold(unit.On, 3*time.Second)
		} else {
			b.Element().Hold(unit.Off, 3*time.Second)
		}
		b.Next()
		r := b.Latest()
		out = append(out, tune.Sample{On: b.Applied() == unit.On, Reading: r.Value, Has: r.Good()})
		switch {
		case t == 300:
			from = float64(r.Value)
			out = out[len(out)-60:] // the minute of rest
			heating = true
		case heating && float64(r.Value) >= from+8:
			heating = false
			until = t + 900
		case until > 0 && t >= until:
			return out
		}
	}
	return out
}

func known(k kettles.Kettle) tune.Known {
	load := heat.WaterCapacity(k.Load.Water) + k.Declared.Vessel
	return tune.Known{Power: k.Declared.Power, Load: load, Loss: k.Declared.Loss, Room: k.Declared.Room}
}

// truth is power over capacity as the plant has it, with the very capacity the
// fit was told for its own.
func truth(k kettles.Kettle) float64 {
	c := float64(heat.WaterCapacity(k.Load.Water)) + float64(k.Plant.Vessel.Capacity) + float64(k.Plant.Element.Capacity)
	return float64(k.Plant.Element.Power) / c
}

func TestExplore(t *testing.T) {
	if os.Getenv("EXPLORE") == "" {
		t.Skip("set EXPLORE")
	}
	var errs, ratio []float64
	bad := 0
	for seed := uint64(0); seed < 60; seed++ {
		k := kettles.Random(seed)
		p := sim.New(k.Plant, k.Load, seed)
		p.Warm(k.Plant.Site.Room + 4)
		s := waterTest(p, seed, nil)
		began := time.Now()
		r := tune.Identify(s, known(k))
		e := float64(r.Model.Power)/float64(known(k).Load)/truth(k) - 1
		errs = append(errs, math.Abs(e))
		ratio = append(ratio, float64(r.Residual/r.Noise))
		if !r.Accepted() {
			bad++
		}
		t.Log(fmt.Sprintf("%d P/C %+.3f%% doubt %.2f%% loss %.2f/%.2f res %.4f noise %.4f te %.0f tp %.0f d %.0f mix %.0f share %.2f %v %.0f ms n %d", seed, e*100, r.Doubt*100, float64(r.Model.Loss), float64(k.Plant.Loss.LidOn),
			float64(r.Residual), float64(r.Noise), r.Model.Element.Seconds(), r.Model.Probe.Seconds(), r.Model.Delay.Seconds(), float64(r.Model.Mash)/float64(r.Model.Exchange), float64(r.Model.Heated/r.Model.Capacity()), r.Reason, time.Since(began).Seconds()*1000, len(s)))
	}
	slices.Sort(errs)
	slices.Sort(ratio)
	t.Logf("P/C error median %.2f%% p90 %.2f%% worst %.2f%%; residual/noise median %.3f worst %.3f; refused %d", errs[30]*100, errs[54]*100, errs[59]*100, ratio[30], ratio[59], bad)
}
