package controller_test

import (
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile/heat"
	"mashward/sim"
	"mashward/sim/kettles"
)

// brew is a batch on the simulator's plant, which the core knows nothing of.
type brew struct {
	core  controller.Core
	s     controller.State
	d     controller.Decision
	bench *sim.Bench
	now   time.Duration
	wish  controller.Command
}

// brewOn is a day of the sample's steps, declared as an owner would, on a
// random kettle.
func brewOn(k kettles.Kettle, seed uint64, mashIn unit.Celsius) *brew {
	c := sampleConfig()
	d := k.Declared
	mash := heat.Mash{Water: k.Load.Water, Vessel: d.Vessel}
	c.Power, c.Loss, c.Vessel, c.LoadWater = d.Power, d.Loss, d.Vessel, mash.Capacity()
	mash.Grain, mash.Moisture = k.Load.Grain, k.Load.Moisture
	c.LoadMash = mash.Capacity()
	c.AfterLift = k.Load.Water - heat.Retention(k.Load.Grain, d.Retention)
	c.LoadWort = heat.Mash{Water: c.AfterLift, Vessel: d.Vessel}.Capacity()
	c.CoveredAt, c.Room, c.Tap, c.InBoil = d.ElementCovered, d.Room, d.Tap, true
	c.Boiling = heat.BoilingPointAt(d.Altitude)
	c.Place = controller.Place(d.Place)
	c.Steps[1].Target = mashIn
	c.Steps[0].Target = mashIn.Plus(unit.Kelvin(float64(c.LoadMash-c.LoadWater) / float64(c.LoadWater) * float64(mashIn-k.Load.GrainTemperature)))
	c.Steps[6].Target = c.Boiling
	return &brew{core: controller.Core{Config: c}, bench: sim.NewBench(sim.New(k.Plant, k.Load, seed), nil, seed)}
}

func (b *brew) tick() *controller.Decision {
	b.now, _ = b.bench.Next()
	b.s, b.d = b.core.Step(b.s, controller.Tick{Now: b.now, Reading: b.bench.Latest(), Applied: b.bench.Applied(), Command: b.wish})
	b.wish = controller.Command{}
	b.bench.Element().Hold(b.d.Wanted, 3*time.Second)
	b.bench.Pump().Hold(b.d.Pump, 3*time.Second)
	return &b.d
}

// until lets time pass until something is so and tells whether it came.
func (b *brew) until(most time.Duration, so func() bool) bool {
	for end := b.now + most; !so(); {
		if b.now >= end {
			return false
		}
		b.tick()
	}
	return true
}

func (b *brew) at(stage controller.Stage) func() bool {
	return func() bool { return b.d.Stage == stage }
}

// The fall that a pour makes is the smaller the cooler the mash-in.
func TestOnAnyKettleAPourWithoutAPressStopsHeatAndPump(t *testing.T) {
	tried := 0
	many := uint64(30)
	if testing.Short() {
		many = 8
	}
	for seed := range many {
		for _, mashIn := range []unit.Celsius{45, 66} {
			b := brewOn(kettles.Random(seed), seed, mashIn)
			b.wish.Wish = controller.Start
			if !b.until(6*time.Hour, b.at(controller.Ready)) {
				t.Errorf("seed %d: strike water is never ready", seed)
				continue
			}
			b.until(5*minute, func() bool { return false })
			if b.s.AskedGrain {
				t.Errorf("seed %d, mash-in %v °C: a pour is suspected before there was one", seed, mashIn)
			}
			b.bench.Plant().Do(sim.Event{Kind: sim.GrainIn})
			poured := b.now
			tried++
			if !b.until(10*minute, func() bool { return b.s.AskedGrain }) {
				t.Errorf("seed %d, mash-in %v °C, probe in the %v: never asked", seed, mashIn, kettles.Random(seed).Plant.Probe.Place)
				continue
			}
			most := 30 * tick
			if mashIn < 50 {
				most = 40 * tick // grain into cool water takes less, and shows later
			}
			if took := b.now - poured; took > most {
				t.Errorf("seed %d, mash-in %v °C, probe in the %v: asked after %v", seed, mashIn, kettles.Random(seed).Plant.Probe.Place, took)
			}
			if b.d.Wanted == unit.On || b.d.Pump == unit.On {
				t.Errorf("seed %d: asked with heat or pump on", seed)
			}
		}
	}
	if tried < int(many)*3/2 {
		t.Errorf("only %d pours tried", tried)
	}
}

// A kettle boils when the wort at its element is within 0.1 K of the boiling
// point; one that loses its power to the open air below never does, and its
// clock may count from a plateau within the band.
func TestOnAnyKettleTheBoilsClockBeginsWhenItBoils(t *testing.T) {
	boiled, refused := 0, 0
	many := uint64(40)
	if testing.Short() {
		many = 12 // with one that cannot boil among them
	}
	for seed := range many {
		k := kettles.Random(seed)
		b := brewOn(k, seed, 66)
		b.core.Config.First = 6 // straight to the boil, water only
		b.core.Config.Steps[6].Duty = 1
		b.wish.Wish = controller.Start
		if !b.until(6*time.Hour, b.at(controller.Door)) {
			t.Errorf("seed %d: never at the door", seed)
			continue
		}
		b.bench.Plant().Do(sim.Event{Kind: sim.LidOff})
		b.wish.Wish = controller.HereLidOff
		bp := heat.BoilingPointAt(k.Plant.Site.Altitude)
		at := func() unit.Celsius { return b.bench.Plant().Truth().ElementWort }
		boils, said := time.Duration(0), false
		began := b.until(2*time.Hour, func() bool {
			if boils == 0 && at() >= bp-0.1 {
				boils = b.now
			}
			said = said || b.d.Alarms[controller.AlarmNoBoil]
			return b.d.Stage == controller.Boil
		})
		switch {
		case !began:
			refused++
			if boils != 0 || !said {
				t.Errorf("seed %d: it boils since %v, the clock never began, no boil said: %v", seed, boils, said)
			}
		case boils == 0:
			if at() < bp.Plus(-controller.PlateauBand-0.1) {
				t.Errorf("seed %d: the clock begins %.2f K below the boil", seed, float64(bp-at()))
			}
		default:
			boiled++
			if off := b.now - b.d.Earned - boils; off < -2*minute || off > 6*minute {
				t.Errorf("seed %d: the clock counts from %v after the boil began", seed, off)
			}
		}
	}
	if boiled < int(many)/2 || refused < 1 {
		t.Errorf("%d kettles boiled, %d could not: too few to judge by", boiled, refused)
	}
}
