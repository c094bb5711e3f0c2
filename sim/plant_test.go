package sim

import (
	"math"
	"testing"

	"mashward/controller/unit"
)

// yard is the scenario of these tests: a 50 L kettle with 3 kW, 26 L of water
// and 4.6 kg of grain.
func yard() (Params, Load) {
	p := Defaults()
	p.Site.Altitude = 340
	return p, Load{Water: 26, Grain: 4.6, GrainTemperature: 18, Moisture: 0.04}
}

func BenchmarkPlantTick(b *testing.B) {
	par, load := yard()
	p := New(par, load, 1)
	p.Warm(60)
	p.Do(Event{Kind: GrainIn})
	b.ReportAllocs()
	on := unit.Off
	i := 0
	for b.Loop() {
		on = unit.RelayOf(i%8 == 0)
		p.Advance(on, unit.On)
		_ = p.Reading()
		i++
	}
}

// hold keeps the kettle near t by a bare thermostat at the outlet, 0.1 K wide.
func hold(p *Plant, t unit.Celsius, seconds int) {
	for range seconds {
		p.Advance(unit.RelayOf(p.Truth().ElementWort < t), unit.On)
	}
}

func TestEnergyIsConservedOverAWholeDay(t *testing.T) {
	par, load := yard()
	par.Grain.Slaking = 10000
	p := New(par, load, 1)
	balanced := func(when string) {
		t.Helper()
		a := p.Account()
		in := float64(a.Element + a.Added + a.Start)
		if miss := math.Abs(float64(a.Missing())) / in; miss > 1e-9 {
			t.Errorf("%s: %.3g of the energy is missing", when, miss)
		}
	}
	hold(p, 68, 6000)
	balanced("strike")
	p.Do(Event{Kind: GrainIn})
	balanced("grain in")
	hold(p, 63, 3600)
	hold(p, 77, 3600)
	p.Do(Event{Kind: WaterIn, Litres: 2, Temperature: 80})
	p.Do(Event{Kind: WaterOut, Litres: 1})
	balanced("mash")
	p.Do(Event{Kind: Lift})
	p.Do(Event{Kind: LidOff})
	balanced("lift")
	for range 7200 {
		p.Advance(unit.On, unit.Off)
	}
	balanced("boil")
	p.Do(Event{Kind: ChillerOn})
	for range 3600 {
		p.Advance(unit.Off, unit.On)
	}
	balanced("chill")
	if a := p.Account(); a.Chilled <= 0 || a.Vapour <= 0 || a.Removed <= 0 || a.Lost <= 0 {
		t.Errorf("a day without one of its losses: %+v", a)
	}
}
