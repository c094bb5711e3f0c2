package gravity

import (
	"math"
	"time"

	"mashward/controller/unit"
	"mashward/profile/heat"
)

// Malt is what the grain can give.
type Malt struct {
	Moisture   unit.Ratio
	Extract    unit.Ratio // of the dry matter, in the laboratory
	Conversion unit.Ratio // of the extract, dissolved by this mash
}

// yield is kilograms of extract dissolved out of a kilogram of grain.
func (m Malt) yield() float64 {
	return (1 - float64(m.Moisture)) * float64(m.Extract) * float64(m.Conversion)
}

// Boil is what goes off as steam. What a boil takes is a volume an hour that
// is said, or a share of the wort before it; never more than the element can.
type Boil struct {
	For   time.Duration
	Rate  unit.LitresPerSecond // cold litres; 0: Share counts
	Share unit.Ratio           // of the volume before the boil, an hour
	Most  unit.LitresPerSecond // what the element can; 0: no limit is known
}

// BoilRate is what an element boils off beside its kettle's loss to the room:
// power above loss, as cold litres. Never below zero.
func BoilRate(power unit.Watts, loss unit.WattsPerKelvin, room, boiling unit.Celsius) unit.LitresPerSecond {
	return max(0, heat.EvaporationRate(power-heat.HoldPower(loss, room, boiling), boiling))
}

// evaporated is what the boil takes of a volume before it.
func (b Boil) evaporated(before unit.Litres) unit.Litres {
	rate := float64(b.Rate)
	if rate == 0 {
		rate = float64(b.Share) * float64(before) / 3600
	}
	if b.Most > 0 {
		rate = min(rate, float64(b.Most))
	}
	return unit.Litres(rate * b.For.Seconds())
}

// Leaves is the wort after the boil: the original gravity to expect of what
// was measured before it. The error is a *Refusal.
func (b Boil) Leaves(before Wort) (Wort, error) { return before.With(-b.evaporated(before.Volume)) }

// before is the volume that the boil leaves after of: the inverse.
func (b Boil) before(after unit.Litres) unit.Litres {
	hours := b.For.Hours()
	all := after + unit.Litres(float64(b.Rate)*b.For.Seconds())
	if b.Rate == 0 {
		all = after / unit.Litres(1-float64(b.Share)*hours)
		if float64(b.Share)*hours >= 1 {
			all = unit.Litres(math.Inf(1))
		}
	}
	if b.Most > 0 {
		all = min(all, after+unit.Litres(float64(b.Most)*b.For.Seconds()))
	}
	return all
}

// Brew is a brew day as far as extract and volumes go.
type Brew struct {
	Water     unit.Litres // cold, filled
	Grain     unit.Kilograms
	Malt      Malt
	Retention unit.LitresPerKilogram // water in minus wort out
	Boil      Boil
	Trub      unit.Ratio // of the cold wort, left behind
}

// Course is what becomes of extract and volume. Every volume is cold.
type Course struct {
	Possible   unit.Kilograms // extract, in the laboratory
	Dissolved  unit.Kilograms // extract, in the mash
	Kept       unit.Kilograms // of it, in the wort the grain keeps
	Retained   unit.Litres    // water in minus wort out
	PreBoil    Wort           // after the lift
	Evaporated unit.Litres
	Original   Wort // after the boil: its gravity is the original gravity
	Left       unit.Litres
	Fermenter  Wort
}

// Efficiency is the share of the laboratory's extract that comes into the
// fermenter.
func (c Course) Efficiency() unit.Ratio {
	return unit.Ratio(c.Fermenter.Extract() / c.Possible)
}

// sound refuses figures nothing can be worked out with.
func (b Brew) sound() error {
	for _, f := range []struct {
		what        string
		value, most float64
	}{
		{"the moisture of the malt", float64(b.Malt.Moisture), 0.5},
		{"the extract of the malt", float64(b.Malt.Extract), 1},
		{"the conversion", float64(b.Malt.Conversion), 1},
		{"what the grain keeps", float64(b.Retention), 10},
		{"what is left behind", float64(b.Trub), 0.9},
		{"the boil-off", float64(b.Boil.Rate), 1},
		{"the share boiled off", float64(b.Boil.Share), 10},
		{"the length of the boil", b.Boil.For.Hours(), 100},
	} {
		if !(f.value >= 0 && f.value <= f.most) {
			return refuse("write it with its unit, within its range", "%s is no usable figure", f.what)
		}
	}
	if b.Malt.yield() == 0 {
		return refuse("write `extract` and `conversion` in the grain", "the malt gives no extract")
	}
	return nil
}

// Course follows extract and water through the day. The error is a *Refusal.
func (b Brew) Course() (Course, error) {
	if err := b.sound(); err != nil {
		return Course{}, err
	}
	if !(b.Grain > 0) || !(b.Water > 0) {
		return Course{}, refuse("write both with their units", "there is no grain or no water")
	}
	c := Course{
		Possible:  unit.Kilograms((1 - float64(b.Malt.Moisture)) * float64(b.Malt.Extract) * float64(b.Grain)),
		Dissolved: unit.Kilograms(b.Malt.yield() * float64(b.Grain)),
		Retained:  heat.Retention(b.Grain, b.Retention),
	}
	// Extract dissolves in the water and in the malt's own moisture, and the
	// wort in the grain is as strong as the wort outside.
	solvent := float64(heat.ColdMass(b.Water)) + float64(b.Malt.Moisture)*float64(b.Grain)
	strength := unit.Plato(100 * float64(c.Dissolved) / (float64(c.Dissolved) + solvent))
	c.PreBoil = Wort{Volume: b.Water - c.Retained, Gravity: GravityOf(strength)}
	if !(c.PreBoil.Volume > 0) {
		return Course{}, refuse("take more water or less grain", "the grain keeps more than all the water")
	}
	c.Kept = c.Dissolved - c.PreBoil.Extract()
	c.Evaporated = b.Boil.evaporated(c.PreBoil.Volume)
	var err error
	if c.Original, err = b.Boil.Leaves(c.PreBoil); err != nil {
		return Course{}, err
	}
	c.Left = unit.Litres(float64(b.Trub) * float64(c.Original.Volume))
	c.Fermenter = Wort{Volume: c.Original.Volume - c.Left, Gravity: c.Original.Gravity}
	return c, nil
}
