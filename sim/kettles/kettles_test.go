package kettles_test

import (
	"slices"
	"testing"

	"mashward/controller/unit"
	"mashward/profile/heat"
	"mashward/sim"
	"mashward/sim/kettles"
)

const many = 4000

func TestEveryKettleIsWithinTheDomain(t *testing.T) {
	for seed := range uint64(many) {
		k := kettles.Random(seed)
		water := float64(k.Load.Water)
		within := func(what string, v, lo, hi float64) {
			t.Helper()
			if !(v >= lo && v <= hi) {
				t.Errorf("seed %d: %s is %g, outside %g to %g", seed, what, v, lo, hi)
			}
		}
		within("water, L", water, 10, 100)
		within("declared power, W", float64(k.Declared.Power), 1000, 6000)
		within("power per water, W/L", float64(k.Declared.Power)/water, 30, 120)
		within("true over declared power", float64(k.Plant.Element.Power/k.Declared.Power), 0.98, 1.02)
		within("turnover, s", water/float64(k.Plant.Circulation.Flow), 90-1e-9, 300+1e-9)
		within("noise, K", float64(k.Plant.Probe.Noise), 0, 0.05)
		within("step, K", float64(k.Plant.Probe.Step), 0, 0.0625)
		within("water to grain, L/kg", water/float64(k.Load.Grain), 4, 6.5)
		contents := k.Load.Water + heat.Displaced(k.Load.Grain)
		within("filled share", float64(contents/k.Declared.Capacity), 0.65, 0.88)
		lifted := k.Load.Water - unit.Litres(float64(k.Load.Grain)*float64(k.Plant.Grain.Retention))
		within("wort after lift over the covered level", float64(lifted/k.Declared.ElementCovered), 2, 100)
		within("pipe, s", k.Plant.Circulation.Delay.Seconds(), 1.5, 9)
		if k.Plant.Loss.LidOff <= k.Plant.Loss.LidOn || k.Plant.Evaporation.LidOff <= k.Plant.Evaporation.LidOn {
			t.Errorf("seed %d: the open lid costs nothing: %+v %+v", seed, k.Plant.Loss, k.Plant.Evaporation)
		}
	}
}

func TestTheSameSeedIsTheSameKettle(t *testing.T) {
	for seed := range uint64(50) {
		if kettles.Random(seed) != kettles.Random(seed) {
			t.Errorf("seed %d gives two kettles", seed)
		}
		if kettles.Random(seed) == kettles.Random(seed+1) {
			t.Errorf("seeds %d and %d give one kettle", seed, seed+1)
		}
	}
}

// TestTheKettlesSpreadOverTheDomain cuts each range that the domain names into
// four parts and wants kettles in all of them.
func TestTheKettlesSpreadOverTheDomain(t *testing.T) {
	places := map[sim.Place]int{}
	figures := map[string][]float64{}
	for seed := range uint64(many) {
		k := kettles.Random(seed)
		water := float64(k.Load.Water)
		places[k.Declared.Place]++
		figures["water"] = append(figures["water"], water)
		figures["power"] = append(figures["power"], float64(k.Declared.Power))
		figures["density"] = append(figures["density"], float64(k.Declared.Power)/water)
		figures["turnover"] = append(figures["turnover"], water/float64(k.Plant.Circulation.Flow))
		figures["noise"] = append(figures["noise"], float64(k.Plant.Probe.Noise))
		figures["ratio"] = append(figures["ratio"], water/float64(k.Load.Grain))
	}
	domain := map[string][2]float64{
		"water": {10, 100}, "power": {1000, 6000}, "density": {30, 120},
		"turnover": {90, 300}, "noise": {0, 0.05}, "ratio": {4, 6.5},
	}
	for what, values := range figures {
		lo, width := domain[what][0], (domain[what][1]-domain[what][0])/4
		var parts [4]int
		for _, v := range values {
			parts[min(int((v-lo)/width), 3)]++
		}
		if least := slices.Min(parts[:]); least < many*4/100 {
			t.Errorf("%s is uneven over its range: %v", what, parts)
		}
	}
	for _, place := range []sim.Place{sim.Outlet, sim.Return, sim.Bed} {
		if places[place] < many/5 {
			t.Errorf("only %d of %d probes sit in the %v", places[place], many, place)
		}
	}
}

// TestEveryKettleHeatsItsMash runs a kettle from mash to mash-out: full power
// must raise it by what power, load and loss allow, not more and not much less.
func TestEveryKettleHeatsItsMash(t *testing.T) {
	for seed := range uint64(40) {
		k := kettles.Random(seed)
		p := sim.New(k.Plant, k.Load, seed)
		p.Warm(60)
		p.Do(sim.Event{Kind: sim.GrainIn})
		for range 1200 {
			p.Advance(unit.Off, unit.On)
		}
		before := p.Truth()
		for range 600 {
			p.Advance(unit.On, unit.On)
		}
		after := p.Truth()
		load := heat.Mash{Water: k.Load.Water, Grain: k.Load.Grain, Moisture: k.Load.Moisture, Vessel: k.Plant.Vessel.Capacity}
		free := 600 * float64(k.Plant.Element.Power) / float64(load.Capacity())
		if rise := float64(after.Mash - before.Mash); rise > free || rise < 0.5*free {
			t.Errorf("seed %d: %.2f K in 10 min, without any loss %.2f K", seed, rise, free)
		}
	}
}
