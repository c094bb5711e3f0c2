package gravity

import (
	"math"

	"mashward/controller/unit"
	"mashward/profile/heat"
)

// Wanted is the brew whose Course ends in the fermenter with this volume and
// gravity: water and grain are filled in, all else is as in b. The error is a
// *Refusal.
func (b Brew) Wanted(fermenter Wort) (Brew, error) {
	if err := b.sound(); err != nil {
		return Brew{}, err
	}
	if !(fermenter.Gravity > 1) || !(fermenter.Gravity <= 1.2) {
		return Brew{}, refuse("write a gravity such as 1.050", "%.3f is no gravity to brew to", float64(fermenter.Gravity))
	}
	preBoil, err := b.preBoil(fermenter.Volume)
	if err != nil {
		return Brew{}, err
	}
	original := Wort{Volume: fermenter.Volume / unit.Litres(1-float64(b.Trub)), Gravity: fermenter.Gravity}
	weaker, err := original.With(preBoil - original.Volume)
	if err != nil {
		return Brew{}, err
	}
	// strength = y G / (y G + d W + m G), with W = preBoil + r G; solved for G.
	strength, y := float64(PlatoOf(weaker.Gravity))/100, b.Malt.yield()
	left := y*(1-strength) - strength*(float64(b.Malt.Moisture)+heat.ColdDensity*float64(b.Retention))
	if !(left > 1e-9) {
		return Brew{}, refuse("choose a lower gravity or a longer boil",
			"a gravity of %.3f before the boil cannot be mashed in this bag: the grain would keep more than it gives", float64(weaker.Gravity))
	}
	b.Grain = unit.Kilograms(strength * heat.ColdDensity * float64(preBoil) / left)
	b.Water = preBoil + heat.Retention(b.Grain, b.Retention)
	return b, nil
}

// preBoil is the volume before the boil that brings so much to the fermenter.
func (b Brew) preBoil(fermenter unit.Litres) (unit.Litres, error) {
	if !(fermenter > 0) || !finite(float64(fermenter)) {
		return 0, refuse("write a volume such as 19 L", "no volume is wanted")
	}
	v := b.Boil.before(fermenter / unit.Litres(1-float64(b.Trub)))
	if !finite(float64(v)) {
		return 0, refuse("choose a shorter boil or a lower boil-off", "the boil would take all there is")
	}
	return v, nil
}

// AtThickness is the brew that brings a volume to the fermenter with so many
// litres of water to the kilogram of grain. The error is a *Refusal.
func (b Brew) AtThickness(fermenter unit.Litres, ratio unit.LitresPerKilogram) (Brew, error) {
	if err := b.sound(); err != nil {
		return Brew{}, err
	}
	preBoil, err := b.preBoil(fermenter)
	if err != nil {
		return Brew{}, err
	}
	if !(ratio > b.Retention) {
		return Brew{}, refuse("take a thinner mash", "at %.2f L/kg the grain keeps all the water", float64(ratio))
	}
	b.Grain = unit.Kilograms(float64(preBoil) / float64(ratio-b.Retention))
	b.Water = unit.Litres(float64(ratio) * float64(b.Grain))
	return b, nil
}

// WaterFor is the brew with its grain whose original gravity is this one: only
// the water changes. The error is a *Refusal.
func (b Brew) WaterFor(original unit.SpecificGravity) (Brew, error) {
	at := func(water float64) float64 {
		b.Water = unit.Litres(water)
		c, err := b.Course()
		if err != nil {
			return math.Inf(1) // too little water for all that is taken
		}
		return float64(c.Original.Gravity)
	}
	if err := b.sound(); err != nil {
		return Brew{}, err
	}
	if !(b.Grain > 0) || !(original > 1) {
		return Brew{}, refuse("write the grain, and a gravity such as 1.050", "there is no grain, or no gravity to brew to")
	}
	// More water is always a weaker wort: halve the bracket to the last bit.
	low, high := 0.0, 100*float64(b.Grain)+float64(b.Boil.Rate)*b.Boil.For.Seconds()
	for range 100 {
		if middle := (low + high) / 2; at(middle) > float64(original) {
			low = middle
		} else {
			high = middle
		}
	}
	if got := at(high); !(math.Abs(got-float64(original)) < 1e-6) {
		return Brew{}, refuse("change the grain or the boil", "no volume of water brings %.2f kg of grain to %.3f", float64(b.Grain), float64(original))
	}
	return b, nil
}
