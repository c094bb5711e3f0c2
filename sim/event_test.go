package sim

import (
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/profile/heat"
)

func TestGrainGoesInAtItsTemperatureWithItsSlakingHeat(t *testing.T) {
	par, load := yard()
	par.Grain.Slaking = 10000
	par.Grain.Error = 0.1
	p := New(par, load, 1)
	p.Warm(68)
	water := float64(heat.ColdMass(load.Water)) * heat.WaterHeat
	grain := float64(load.Grain) * 1.1 * heat.GrainHeat(load.Moisture)
	want := (water*68 + grain*18 + float64(load.Grain)*1.1*10000) / (water + grain)
	p.Do(Event{Kind: GrainIn})
	near(t, "mash after grain in", float64(p.Mash()), want, 1e-9)
	p.Do(Event{Kind: GrainIn})
	near(t, "mash after pressing twice", float64(p.Mash()), want, 1e-9)
	for range 120 {
		p.Advance(unit.Off, unit.Off)
	}
	tr := p.Truth()
	if spread := tr.ElementWort - tr.Grain; spread > 1 || spread < -1 {
		t.Errorf("after stirring wort has %.2f °C and grain %.2f °C", tr.ElementWort, tr.Grain)
	}
	if !tr.HasGrain {
		t.Error("grain went in and is not there")
	}
}

func TestWithThePumpOffTheBedIsCutOff(t *testing.T) {
	behind := func(pump unit.Relay) unit.Kelvin {
		p := mashing(60)
		for range 300 {
			p.Advance(unit.On, pump)
		}
		tr := p.Truth()
		return tr.ElementWort.Minus(tr.Grain)
	}
	if on, off := behind(unit.On), behind(unit.Off); off < 3*on {
		t.Errorf("after 5 min of heat the grain lags by %.1f K with the pump, %.1f K without", on, off)
	}
}

func TestTheLiftTakesGrainAndHeldWort(t *testing.T) {
	p := mashing(76)
	before := p.Truth()
	p.Do(Event{Kind: Lift})
	after := p.Truth()
	near(t, "litres gone with the grain", float64(before.Volume-after.Volume), 4.6*0.8, 1e-9)
	near(t, "level", float64(before.Level-after.Level), 4.6*0.8+4.6*float64(heat.Displacement), 1e-9)
	near(t, "temperature of what stays", float64(after.Mash), float64(before.Wort), 0.1)
	if after.HasGrain || after.Mash != after.Wort {
		t.Errorf("grain is still there after the lift: %+v", after)
	}
	again := *p
	p.Do(Event{Kind: Lift})
	if *p != again {
		t.Error("a second lift changed something")
	}
}

func TestWaterInAndOutMixAndAreCounted(t *testing.T) {
	p := mashing(60)
	before := p.Truth()
	wort, _ := p.wort()
	p.Do(Event{Kind: WaterIn, Litres: 5, Temperature: 10})
	added := float64(heat.ColdMass(5)) * heat.WaterHeat
	after := p.Truth()
	near(t, "litres", float64(after.Volume-before.Volume), 5, 1e-9)
	got, _ := p.wort()
	near(t, "heat", got-wort, added*10, 1e-3)
	p.Do(Event{Kind: WaterOut, Litres: 5})
	near(t, "litres", float64(p.Truth().Volume), float64(before.Volume), 1e-9)
	p.Do(Event{Kind: WaterOut, Litres: 500})
	near(t, "the puddle, L", p.x[nodeMass]/heat.ColdDensity, puddle/heat.ColdDensity, 1e-9)
	p.Do(Event{Kind: WaterIn, Litres: -3})
	near(t, "the puddle after nonsense, L", p.x[nodeMass]/heat.ColdDensity, puddle/heat.ColdDensity, 1e-9)
	for range 7200 {
		p.Advance(unit.On, unit.On)
	}
	if out := p.x[nodeOutside]; !(out > 60 && out < 110) {
		t.Errorf("the puddle under full power has %.1f °C", out)
	}
}

func TestTheOpenLidCostsLossAndVapour(t *testing.T) {
	fall := func(lid Kind) unit.Kelvin {
		p := mashing(70)
		p.Do(Event{Kind: lid})
		from := p.Mash()
		for range 1800 {
			p.Advance(unit.Off, unit.On)
		}
		return from.Minus(p.Mash())
	}
	on, off := fall(LidOn), fall(LidOff)
	if off < on*1.5 {
		t.Errorf("in half an hour %.2f K with the lid on, %.2f K with it off", on, off)
	}
}

func TestTheChillerNearsItsWaterAndNeverPassesIt(t *testing.T) {
	p := New(Defaults(), Load{Water: 25}, 1)
	p.Warm(95)
	p.Do(Event{Kind: ChillerOn})
	for range 900 {
		p.Advance(unit.Off, unit.On)
	}
	if m := p.Mash(); m > 30 || m < 12 {
		t.Errorf("after 15 min of chilling %.1f °C", m)
	}
	for range 7200 {
		p.Advance(unit.Off, unit.On)
	}
	if m := p.Mash(); m < 12 || m > 12.5 {
		t.Errorf("after 2 h of chilling with water of 12 °C %.2f °C", m)
	}
	p.Do(Event{Kind: ChillerOff})
	chilled := p.x[nodeChilled]
	p.Advance(unit.Off, unit.On)
	if p.x[nodeChilled] != chilled {
		t.Error("the chiller works after it was taken out")
	}
}

func TestABareElementHardlyHeatsTheWort(t *testing.T) {
	par := Defaults()
	par.Element.Covered = 12
	rise := func(water unit.Litres) (perLitre unit.Kelvin, sheath unit.Celsius) {
		p := New(par, Load{Water: water}, 1)
		p.Warm(50)
		for range 60 {
			p.Advance(unit.On, unit.On)
		}
		return p.Mash().Minus(50) * unit.Kelvin(water), p.Truth().Sheath
	}
	covered, cool := rise(20)
	bare, hot := rise(5)
	if bare > covered/5 || hot < cool+50 {
		t.Errorf("covered %.2f K L and sheath %.0f °C, bare %.2f K L and %.0f °C", covered, cool, bare, hot)
	}
}

func TestAProbeThatTheLevelHasLeftFeelsTheSpaceAbove(t *testing.T) {
	par := Defaults()
	par.Probe.Covered, par.Probe.Noise = 10, 0
	p := New(par, Load{Water: 8}, 1)
	p.Warm(70)
	for range 300 {
		p.Advance(unit.Off, unit.On)
	}
	if r := p.Reading(); r > 50 || r < 35 {
		t.Errorf("a bare probe over wort of %.1f °C reads %.1f °C", p.Mash(), r)
	}
}

func TestPowerGoesWithTheSquareOfTheVoltage(t *testing.T) {
	par := Defaults()
	par.Supply.Actual = 207
	p := New(par, Load{Water: 20}, 1)
	near(t, "power at 90 % of the voltage", float64(p.FullPower()), 3000*0.81, 1e-9)
}

func TestTheReadingLagsStepsAndIsOffAsItsProbeIs(t *testing.T) {
	par := Defaults()
	par.Probe = Probe{Place: Outlet, Lag: 10 * time.Second, Conversion: time.Second, Step: 0.5, Offset: 2}
	p := New(par, Load{Water: 20}, 1)
	p.Warm(60)
	for range 900 {
		p.Advance(unit.On, unit.On)
	}
	slope := p.x[nodeOutside]
	p.Advance(unit.On, unit.On)
	slope = p.x[nodeOutside] - slope
	// A ramp is followed late by the sum of all time constants: 10 s and 1 s.
	near(t, "delay of the sensed ramp, s", (p.x[nodeOutside]-p.x[p.r.sensed])/slope, 11, 0.2)
	want := p.x[p.r.sensed] + 2
	got := float64(p.Reading())
	if got != float64(int(got*2))/2 || got < want-0.25 || got > want+0.25 {
		t.Errorf("reading %v of %.3f with an offset of 2 K in steps of 0.5 K", got, want-2)
	}
}

func TestNoiseHasItsDeviationAndItsSeed(t *testing.T) {
	par := Defaults()
	par.Probe.Step, par.Probe.Noise = 0, 0.05
	a, b, other := New(par, Load{Water: 20}, 7), New(par, Load{Water: 20}, 7), New(par, Load{Water: 20}, 8)
	sum, squares, same := 0.0, 0.0, 0
	const n = 20000
	for range n {
		r := float64(a.Reading() - 12)
		if float64(b.Reading()-12) != r {
			t.Fatal("one seed gave two readings")
		}
		if float64(other.Reading()-12) == r {
			same++
		}
		sum += r
		squares += r * r
	}
	near(t, "mean of the noise", sum/n, 0, 0.002)
	near(t, "its mean square over 0.05²", squares/n/0.0025, 1, 0.05)
	if same > n/100 {
		t.Errorf("two seeds agree in %d of %d readings", same, n)
	}
}

func TestACloneGoesItsOwnWay(t *testing.T) {
	p := mashing(60)
	q := p.Clone()
	for range 60 {
		p.Advance(unit.On, unit.On)
		p.Reading()
	}
	again := q.Clone()
	for range 60 {
		again.Advance(unit.On, unit.On)
		again.Reading()
	}
	if *again != *p {
		t.Error("a clone under the same inputs ends elsewhere")
	}
	if q.Mash() == p.Mash() {
		t.Error("the clone moved with its original")
	}
}
