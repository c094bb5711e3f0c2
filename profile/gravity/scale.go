// Package gravity is the arithmetic of extract: how strong wort is, what an
// instrument really says about it, what becomes of extract from the malt to
// the fermenter, and what brings a wort to the gravity that was wanted.
//
// The words. Gravity is density against water, both at 20 °C: 1.050. A point
// is a thousandth of it above water: 1.050 has 50 points. Degrees Plato are
// grams of extract in 100 g of wort. Extract is what malt gives to wort, mostly
// sugar; it does not boil away, so that points times litres stay the same
// while water goes or comes. A volume is cold (20 °C) unless a name says hot.
//
// Why points and not kilograms of extract are what is kept: if volumes add up,
// mass is kept exactly when points times litres are. They add up but for a
// thousandth: over a boil that takes a fifth of the wort both rules differ by
// less than 0.0002 in gravity. The trade counts in points.
package gravity

import (
	"fmt"

	"mashward/controller/unit"
	"mashward/profile/heat"
)

// Refusal says why a figure cannot be had, and what to do about it.
type Refusal struct {
	What   string
	Remedy string
}

// Error is both halves in one line.
func (r *Refusal) Error() string { return unit.JoinRemedy(r.What, r.Remedy) }

func refuse(remedy, what string, args ...any) *Refusal {
	return &Refusal{What: fmt.Sprintf(what, args...), Remedy: remedy}
}

// SG = 1 + P/(258.6 - 227.1 P/258.2): the formula that the ATP Group
// catalogue prints on page 105. It passes through water, unlike the polynomial
// of the ASBC, and can be turned round without iterating; from 0 to 25 °P it
// stays within 0.00005 of the density of sucrose, which Plato's table is of.
const (
	platoAtNone = 258.6
	platoSlope  = 227.1 / 258.2
)

// GravityOf is the specific gravity of wort of so many degrees Plato.
func GravityOf(p unit.Plato) unit.SpecificGravity {
	return unit.SpecificGravity(1 + float64(p)/(platoAtNone-platoSlope*float64(p)))
}

// PlatoOf is the inverse of GravityOf.
func PlatoOf(g unit.SpecificGravity) unit.Plato {
	above := float64(g) - 1
	return unit.Plato(platoAtNone * above / (1 + platoSlope*above))
}

// Wort is a volume of wort, cold, and its gravity.
type Wort struct {
	Volume  unit.Litres
	Gravity unit.SpecificGravity
}

// Points is points times litres: what no boil takes and no water adds.
func (w Wort) Points() float64 { return (float64(w.Gravity) - 1) * 1000 * float64(w.Volume) }

// Mass is what the wort weighs.
func (w Wort) Mass() unit.Kilograms {
	return unit.Kilograms(float64(w.Volume) * float64(w.Gravity) * heat.ColdDensity)
}

// Extract is the extract in the wort.
func (w Wort) Extract() unit.Kilograms {
	return unit.Kilograms(float64(w.Mass()) * float64(PlatoOf(w.Gravity)) / 100)
}

// With is the wort after water came (positive) or went (negative): litres of
// cold water, by top-up or by boiling. The error is a *Refusal: more went than
// there was.
func (w Wort) With(water unit.Litres) (Wort, error) {
	after := Wort{Volume: w.Volume + water}
	if !(after.Volume > 0) {
		return Wort{}, refuse("boil less, or begin with more wort", "%.1f L would go, and there are %.1f L", -water, w.Volume)
	}
	after.Gravity = unit.SpecificGravity(1 + w.Points()/1000/float64(after.Volume))
	return after, nil
}

// And is the wort with another poured to it.
func (w Wort) And(other Wort) Wort {
	both := Wort{Volume: w.Volume + other.Volume, Gravity: 1}
	if both.Volume > 0 {
		both.Gravity = unit.SpecificGravity(1 + (w.Points()+other.Points())/1000/float64(both.Volume))
	}
	return both
}
