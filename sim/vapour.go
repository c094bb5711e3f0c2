package sim

import (
	"mashward/controller/unit"
	"mashward/profile/heat"
)

// The vapour table spares the hot loop the saturation line's square roots.
// Linear between its points, it is at most 0.3 Pa (2e-6 of the pressure at the
// boil) and 2 J/kg off profile/heat; a test holds it to that.
const (
	vapourStep = 0.125 // K
	vapourTop  = 110.0 // °C: above it the values at the top
	vapourLast = int(vapourTop / vapourStep)
)

type vapourPoint struct {
	pressure float64 // Pa
	latent   float64 // J/kg
}

var vapourTable = newVapourTable()

func newVapourTable() *[vapourLast + 1]vapourPoint {
	var t [vapourLast + 1]vapourPoint
	for i := range t {
		at := unit.Celsius(float64(i) * vapourStep)
		t[i] = vapourPoint{float64(heat.SaturationPressure(at)), float64(heat.Latent(at))}
	}
	return &t
}

// vapour is saturation pressure (Pa) and heat of evaporation (J/kg) at t, °C.
func vapour(t float64) (pressure, latent float64) {
	u := t * (1 / vapourStep)
	if !(u > 0) {
		u = 0
	}
	if u >= float64(vapourLast) {
		return vapourTable[vapourLast].pressure, vapourTable[vapourLast].latent
	}
	i := int(u)
	f := u - float64(i)
	a, b := &vapourTable[i], &vapourTable[i+1]
	return a.pressure + f*(b.pressure-a.pressure), a.latent + f*(b.latent-a.latent)
}
