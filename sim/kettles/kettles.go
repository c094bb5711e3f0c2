// Package kettles makes random kettles over the whole domain that mashward is
// built for, so that a controller is judged on kettles nobody tuned it by. Keep
// some seeds unseen while you tune.
//
// # Distribution
//
// All figures are drawn independently unless a line says otherwise; "log" is
// evenly spread in the logarithm. The ranges are engineering guesses that keep
// each figure tied to the size it comes from; only the domain is given.
//
//	water                 10 to 100 L, log                     } drawn again until
//	power per water       30 to 120 W/L, log                   } power is 1 to 6 kW
//	grain                 water / (4 to 6.5 L/kg)
//	grain temperature     room, 3 K either way; moisture 3 to 6 %
//	turnover              1.5 to 5 min: all wort / flow
//	kettle                filled to 65 to 88 % by water and grain; depth 0.8 to 1.3 diameters
//	element covered at    15 to 30 % of the water; an outlet probe at 10 to 20 %
//	true power            declared power within 2 % (the supply is at nominal)
//	sheath                0.2 to 0.45 J/K per W; transfer 0.035 to 0.07 W/K per W (4 to 13 s)
//	wall                  steel, 0.8 to 1.5 mm, 500 J/(kg K), a fifth to a half more for fittings;
//	                      250 to 400 W/(m² K) to the wort over the filled depth and the floor
//	loss, lid on          5 to 10 W/(m² K) over the whole outside; the open lid adds 4 to 8 W/(m² K)
//	vapour, lid off       40 to 90 W/(m² kPa) of the open surface; with the lid on 2 to 15 % of it
//	outside the bed       20 to 45 % of the kettle's wort
//	bed transfer          40 to 90 W/K per kg of grain
//	pipe                  holds 1 to 3 % of the water, at least 1.5 s of flow; 0.3 to 1 W/K at 26 L,
//	                      with the root of the water
//	probe                 outlet in half of the kettles, return and bed in a quarter each;
//	                      lag 4 to 15 s; noise 0 to 0.05 K; steps of 0, 0.03125 or 0.0625 K;
//	                      conversion 0.1 or 0.75 s; offset 0 (what a probe reads wrong, no control can mend)
//	room                  12 to 26 °C; altitude 0 to 1500 m; tap and fill water 8 to 18 °C
//	retention             0.6 to 1.0 L/kg; slaking 0 to 15 kJ/kg
//	chiller               6 to 14 W/K per litre of water
//
// What is declared is what an owner can know: power, capacity, diameter, covered
// levels, the probe's place, room and tap. The declared vessel is within 10 %
// and the declared loss within 25 % of the true one. The rest is the plant's own.
package kettles

import (
	"math"
	"math/rand/v2"
	"time"

	"mashward/controller/unit"
	"mashward/profile/heat"
	"mashward/sim"
)

// Kettle is a true plant, what is poured into it, and what its owner declares.
type Kettle struct {
	Plant    sim.Params
	Load     sim.Load
	Declared Declared
}

// Declared are the figures a rig file would give.
type Declared struct {
	Power          unit.Watts
	Capacity       unit.Litres // to the brim
	Diameter       unit.Metres
	ElementCovered unit.Litres
	ProbeCovered   unit.Litres // outlet probes; 0 for others
	Place          sim.Place
	Vessel         unit.JoulesPerKelvin
	Loss           unit.WattsPerKelvin // lid on
	Altitude       unit.Metres
	Room, Tap      unit.Celsius
	Retention      unit.LitresPerKilogram
}

// Random is the kettle of this seed: the same seed always gives the same one.
func Random(seed uint64) Kettle {
	d := draw{rand.New(rand.NewPCG(seed, 0x6b6574746c65))}
	var k Kettle
	k.size(d)
	shape := k.shape(d)
	k.site(d)
	k.element(d)
	k.vessel(d, shape)
	k.circulation(d)
	k.probe(d)
	k.Plant.Name = "random kettle"
	k.declare(d)
	return k
}

// draw is chance with the kettle maker's words for it.
type draw struct{ *rand.Rand }

func (d draw) between(lo, hi float64) float64 { return lo + (hi-lo)*d.Float64() }

func (d draw) log(lo, hi float64) float64 { return math.Exp(d.between(math.Log(lo), math.Log(hi))) }

func (k *Kettle) size(d draw) {
	for {
		water := d.log(10, 100)
		power := water * d.log(30, 120)
		if power < 1000 || power > 6000 {
			continue
		}
		k.Load.Water = unit.Litres(water)
		k.Declared.Power = unit.Watts(power)
		break
	}
	k.Load.Grain = unit.Kilograms(float64(k.Load.Water) / d.between(4, 6.5))
	k.Load.Moisture = unit.Ratio(d.between(0.03, 0.06))
}

// shape is a cylinder in metres.
type shape struct{ diameter, depth, filled float64 }

func (s shape) floor() float64   { return math.Pi / 4 * s.diameter * s.diameter }
func (s shape) outside() float64 { return math.Pi*s.diameter*s.depth + 2*s.floor() }
func (s shape) wetted() float64  { return math.Pi*s.diameter*s.filled + s.floor() }

func (k *Kettle) shape(d draw) shape {
	contents := float64(k.Load.Water + heat.Displaced(k.Load.Grain))
	capacity := contents / d.between(0.65, 0.88)
	slender := d.between(0.8, 1.3)
	diameter := math.Cbrt(4 * capacity / 1000 / (math.Pi * slender))
	k.Declared.Capacity = unit.Litres(capacity)
	k.Declared.Diameter = unit.Metres(diameter)
	k.Plant.Vessel.Volume = k.Declared.Capacity
	k.Plant.Element.Covered = k.Load.Water * unit.Litres(d.between(0.15, 0.30))
	k.Plant.Probe.Covered = k.Load.Water * unit.Litres(d.between(0.10, 0.20))
	depth := slender * diameter
	return shape{diameter, depth, depth * contents / capacity}
}

func (k *Kettle) site(d draw) {
	room := d.between(12, 26)
	tap := d.between(8, 18)
	k.Plant.Site = sim.Site{Room: unit.Celsius(room), Altitude: unit.Metres(d.between(0, 1500))}
	k.Plant.Water.Temperature = unit.Celsius(tap)
	k.Load.GrainTemperature = unit.Celsius(room + d.between(-3, 3))
	k.Plant.Grain = sim.Grain{Retention: unit.LitresPerKilogram(d.between(0.6, 1)), Slaking: unit.JoulesPerKilogram(d.between(0, 15000))}
	k.Plant.Chiller = sim.Chiller{Transfer: unit.WattsPerKelvin(float64(k.Load.Water) * d.between(6, 14)), Water: unit.Celsius(tap)}
	k.Plant.Supply = sim.Supply{Nominal: 230, Actual: 230}
}

func (k *Kettle) element(d draw) {
	power := float64(k.Declared.Power)
	e := &k.Plant.Element
	e.Power = unit.Watts(power * d.between(0.98, 1.02))
	e.Capacity = unit.JoulesPerKelvin(power * d.between(0.2, 0.45))
	e.Transfer = unit.WattsPerKelvin(power * d.between(0.035, 0.07))
}

func (k *Kettle) vessel(d draw, s shape) {
	const steel = 8000 * 500 // J/(m³ K)
	sheet := s.outside() - s.floor()
	k.Plant.Vessel.Capacity = unit.JoulesPerKelvin(sheet * d.between(0.0008, 0.0015) * steel * d.between(1.2, 1.5))
	k.Plant.Vessel.Transfer = unit.WattsPerKelvin(s.wetted() * d.between(250, 400))
	loss := s.outside() * d.between(5, 10)
	k.Plant.Loss = sim.Loss{LidOn: unit.WattsPerKelvin(loss), LidOff: unit.WattsPerKelvin(loss + s.floor()*d.between(4, 8))}
	open := s.floor() * d.between(0.040, 0.090)
	k.Plant.Evaporation = sim.Evaporation{LidOn: unit.WattsPerPascal(open * d.between(0.02, 0.15)), LidOff: unit.WattsPerPascal(open)}
}

func (k *Kettle) circulation(d draw) {
	water := float64(k.Load.Water)
	turnover := d.between(1.5, 5) * 60
	delay := max(turnover*d.between(0.01, 0.03), 1.5)
	k.Plant.Circulation = sim.Circulation{
		Flow:        unit.LitresPerSecond(water / turnover),
		BedTransfer: unit.WattsPerKelvin(float64(k.Load.Grain) * d.between(40, 90)),
		OutsideBed:  unit.Ratio(d.between(0.20, 0.45)),
		Delay:       time.Duration(delay * float64(time.Second)),
		PipeLoss:    unit.WattsPerKelvin(d.between(0.3, 1) * math.Sqrt(water/26)),
	}
}

func (k *Kettle) probe(d draw) {
	p := &k.Plant.Probe
	p.Place = [...]sim.Place{sim.Outlet, sim.Outlet, sim.Return, sim.Bed}[d.IntN(4)]
	if p.Place != sim.Outlet {
		p.Covered = 0
	}
	p.Lag = time.Duration(d.between(4, 15) * float64(time.Second))
	p.Noise = unit.Kelvin(d.between(0, 0.05))
	p.Step = [...]unit.Kelvin{0, 0.03125, 0.0625}[d.IntN(3)]
	p.Conversion = [...]time.Duration{100 * time.Millisecond, 750 * time.Millisecond}[d.IntN(2)]
}

func (k *Kettle) declare(d draw) {
	c := &k.Declared
	c.ElementCovered, c.ProbeCovered, c.Place = k.Plant.Element.Covered, k.Plant.Probe.Covered, k.Plant.Probe.Place
	c.Vessel = k.Plant.Vessel.Capacity * unit.JoulesPerKelvin(d.between(0.9, 1.1))
	c.Loss = k.Plant.Loss.LidOn * unit.WattsPerKelvin(d.between(0.75, 1.25))
	c.Altitude, c.Room, c.Tap = k.Plant.Site.Altitude, k.Plant.Site.Room, k.Plant.Water.Temperature
	c.Retention = k.Plant.Grain.Retention
}
