package kettles_test

import (
	"slices"
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/sim"
	"mashward/sim/kettles"
)

// TestEveryKettleHasAnOffsetAndALimit brings 60 kettles from a rest at 63 to one
// at 71 °C at their limit. None may need longer than the slowest of the domain
// could (30 W/L: 0.3 K/min at the worst), and with slow turnover an offset of a
// few tenths of a kelvin is physics.
func TestEveryKettleHasAnOffsetAndALimit(t *testing.T) {
	var offsets []float64
	var minutes []float64
	for seed := range uint64(60) {
		k := kettles.Random(seed)
		p := sim.New(k.Plant, k.Load, seed)
		p.Warm(63)
		p.Do(sim.Event{Kind: sim.GrainIn})
		p.Warm(63)
		for range 600 {
			p.Advance(unit.Off, unit.On)
		}
		offset := sim.Offset(p, 71)
		limit, ok := sim.Limit(p, 71, offset, 0)
		if !ok || limit < 3*time.Minute || limit > 40*time.Minute {
			t.Errorf("seed %d: limit %v, %v", seed, limit, ok)
		}
		offsets = append(offsets, max(float64(offset), -float64(offset)))
		minutes = append(minutes, limit.Minutes())
	}
	slices.Sort(offsets)
	slices.Sort(minutes)
	t.Logf("size of the offset: median %.3f, worst %.3f K; limit: %.1f to %.1f, median %.1f min",
		offsets[30], offsets[59], minutes[0], minutes[59], minutes[30])
	if offsets[59] > 1 || offsets[30] > 0.3 {
		t.Errorf("offsets too large for a circulated mash: median %.2f, worst %.2f K", offsets[30], offsets[59])
	}
}

// BenchmarkKettleTick is the cost of a second averaged over 50 kettles.
func BenchmarkKettleTick(b *testing.B) {
	var plants [50]*sim.Plant
	for seed := range plants {
		k := kettles.Random(uint64(seed))
		plants[seed] = sim.New(k.Plant, k.Load, uint64(seed))
		plants[seed].Warm(66)
		plants[seed].Do(sim.Event{Kind: sim.GrainIn})
	}
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		p := plants[i%len(plants)]
		p.Advance(unit.RelayOf(i%9 == 0), unit.On)
		_ = p.Reading()
		i++
	}
}
