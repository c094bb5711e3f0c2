package plan

import (
	"math"
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/heat"
)

// kettleODE is the plan's kettle integrated by brute force, sharing no formula
// with the plan: c dT/dt = power - loss (T - room) - evaporation, by the
// classical Runge-Kutta method with steps of a tenth of a second.
type kettleODE struct {
	capacity    float64 // J/K
	loss        float64 // W/K
	room        float64
	evaporation func(celsius float64) float64 // W
	temperature float64
	energy      float64 // J, what the element gave
	elapsed     float64 // s
}

const ode = 0.1 // s

func (k *kettleODE) step(power float64) {
	slope := func(t float64) float64 {
		out := power - k.loss*(t-k.room)
		if k.evaporation != nil {
			out -= k.evaporation(t)
		}
		return out / k.capacity
	}
	t := k.temperature
	k1 := slope(t)
	k2 := slope(t + ode/2*k1)
	k3 := slope(t + ode/2*k2)
	k4 := slope(t + ode*k3)
	k.temperature += ode / 6 * (k1 + 2*k2 + 2*k3 + k4)
	k.energy += power * ode
	k.elapsed += ode
}

// heatTo runs at a power, or below it where the rise would pass a ceiling
// (K/s, 0: none), and returns the seconds to the target.
func (k *kettleODE) heatTo(t *testing.T, target, power, ceiling float64) float64 {
	t.Helper()
	start := k.elapsed
	for k.temperature < target {
		p := power
		if ceiling > 0 {
			p = math.Min(power, k.capacity*ceiling+k.loss*(k.temperature-k.room))
		}
		k.step(p)
		if k.elapsed-start > 1e5 {
			t.Fatalf("%.1f °C is not reached", target)
		}
	}
	return k.elapsed - start
}

// hold keeps the temperature by power = loss, as a perfect controller would.
func (k *kettleODE) hold(seconds, extra float64) {
	for range int(math.Round(seconds / ode)) {
		k.step(k.loss*(k.temperature-k.room) + extra)
		if extra > 0 {
			k.temperature -= extra * ode / k.capacity // what boiling carries off
		}
	}
}

func TestTheSampleDayMeetsANumericalIntegration(t *testing.T) {
	p, problems := Make(rye(), yard())
	if Refused(problems) {
		t.Fatal(problems)
	}
	const water, vessel, grain = 26 * 0.998206 * 4186, 4100.0, 4.6 * 0.40 * 4186
	k := &kettleODE{capacity: water + vessel, loss: 7, room: 18, temperature: 12}
	check := func(index int, what string, got float64) {
		t.Helper()
		within(t, what+", s", minutes(t, p, index)*60, got, 1)
	}
	check(0, "strike", k.heatTo(t, float64(p.Strike.Temperature), 3000, 0))
	// Mash-in: the grain comes in cold, and the pour of 2 min is not lost heat.
	mixed := ((water+vessel)*k.temperature + grain*18) / (water + vessel + grain)
	within(t, "mash-in, °C", mixed, 44, 0.01)
	k.capacity, k.temperature = k.capacity+grain, 44
	k.elapsed += 120
	k.hold(15*60, 0)
	check(2, "63 °C at 1 K/min", k.heatTo(t, 63, 3000, 1.0/60))
	k.hold(35*60, 0)
	check(3, "71 °C", k.heatTo(t, 71, 3000, 0))
	k.hold(25*60, 0)
	check(4, "77 °C", k.heatTo(t, 77, 3000, 0))
	k.hold(10*60, 0)
	// Lift: 4.6 kg at 0.8 L/kg leave 22.32 L.
	k.capacity = 22.32*0.998206*4186 + vessel
	boiling := float64(heat.BoilingPointAt(340))
	climb := k.heatTo(t, boiling-3, 3000, 0)
	area := math.Pi / 4 * 0.4 * 0.4
	k.evaporation = func(c float64) float64 {
		return 0.050*area*float64(heat.SaturationPressure(unit.Celsius(c))-heat.SaturationPressure(18)/2) + 6*area*(c-18)
	}
	gentle := k.heatTo(t, boiling, 1800, 0)
	within(t, "boil-up, s", minutes(t, p, 6)*60, climb+gentle, 3)
	within(t, "gentle part, s", p.Steps[6].Gentle.Seconds(), gentle, 3)
	k.evaporation = nil
	air := 6 * area * (boiling - 18) // W, from the open surface
	k.hold(75*60, air+2.4/3600*0.998206*float64(heat.Latent(unit.Celsius(boiling))))
	within(t, "end of the boil, s", p.Steps[6].End.Seconds(), k.elapsed, 5)
	// Chill: 19.32 L, 300 W/K to a tap of 12 °C beside the loss.
	k.capacity = 19.32*0.998206*4186 + vessel
	k.evaporation = func(c float64) float64 { return 300 * (c - 12) }
	start := k.elapsed
	for k.temperature > 18 {
		k.step(0)
	}
	within(t, "chill, s", minutes(t, p, 7)*60, k.elapsed-start, 1)
	within(t, "energy, kJ", float64(p.Energy)/1000, k.energy/1000, 0.001*k.energy/1000)
}

// A ceiling may hold throughout, give out on the way, or never hold at all.
func TestRampCeilingsMeetANumericalIntegration(t *testing.T) {
	for _, row := range []struct {
		perMinute float64
		said      bool
	}{{0.3, false}, {0.64, false}, {0.66, true}, {0.8, true}, {3, true}} {
		brew, kettle := rye(), yard()
		kettle.Power, kettle.Loss = 2000, 12
		brew.Steps = append([]profile.Step{}, brew.Steps[:2]...)
		brew.Steps[1].Target, brew.Steps[1].Ramp = 76, unit.KelvinPerSecond(row.perMinute/60)
		p, problems := Make(brew, kettle)
		if Refused(problems) {
			t.Fatal(problems)
		}
		k := &kettleODE{capacity: 26*0.998206*4186 + 4100 + 4.6*0.4*4186, loss: 12, room: 18, temperature: 44}
		within(t, "heat-up, s", minutes(t, p, 2)*60, k.heatTo(t, 76, 2000, row.perMinute/60), 1)
		hold := 12.0 * (76 - 18) * 35 * 60
		within(t, "energy, kJ", float64(p.Steps[2].Energy)/1000, (k.energy+hold)/1000, 0.5)
		if _, said := about(problems, "element manages"); said != row.said {
			t.Errorf("%g K/min: said %v, want %v: %v", row.perMinute, said, row.said, problems)
		}
	}
}

// Common practice, no source: 2 kW takes about 10 to 15 min for 10 K in 25 to
// 30 L.
func TestTwoKilowattsNeedTenToFifteenMinutesForTenKelvin(t *testing.T) {
	for _, water := range []unit.Litres{25, 27.5, 30} {
		kettle := yard()
		kettle.Power = 2000
		p, problems := Make(profile.Profile{Water: water, Steps: []profile.Step{
			{Kind: profile.Rest, Target: 50, For: time.Minute}, {Kind: profile.Rest, Target: 60, For: time.Minute},
		}}, kettle)
		if m := minutes(t, p, 2); m < 10 || m > 15 || Refused(problems) {
			t.Errorf("%g L: %.1f min (%v)", float64(water), m, problems)
		}
	}
}

// Common practice, no source: 5 to 6 L/kg on grain of 18 °C at 63 to 66 °C
// needs strike water 3 to 4 K hotter.
func TestStrikeWaterStandsThreeToFourKelvinAboveTheMash(t *testing.T) {
	for _, target := range []unit.Celsius{63, 66} {
		for _, grain := range []unit.Kilograms{26.0 / 5, 26.0 / 6} {
			brew := rye()
			brew.Grain.Mass, brew.Steps[0].Target, brew.Steps[1].Target = grain, target, 68
			p, problems := Make(brew, yard())
			if fall := p.Strike.Temperature.Minus(target); fall < 2.8 || fall > 4 || Refused(problems) {
				t.Errorf("%.0f °C, %.1f kg: %.2f K (%v)", target, grain, fall, problems)
			}
		}
	}
}
