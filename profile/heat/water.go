// Package heat is the physics a brew day is planned with: what water and malt
// weigh and hold, where water boils, what strike water must be, how long a
// heat-up takes. Everything is a closed form or a fit with its error stated.
//
// The words: a volume is cold (water at 20 °C) unless a name says hot; a
// load's heat capacity is what one kelvin costs; the loss is what the kettle
// gives to the room for each kelvin it stands above it.
package heat

import (
	"mashward/controller/unit"
)

// WaterHeat is the specific heat of water, J/(kg K), taken as one number for
// every heat balance. IF97 gives 4178.6 (at 40 °C) to 4216.5 (at 99.9 °C) at
// 101 325 Pa: between 10 and 100 °C the constant is off by at most 0.8 %, and
// over a mash, 44 to 78 °C, by 0.2 %.
const WaterHeat = 4186.0

// ColdDensity is the density of water at 20 °C and 101 325 Pa, kg/L (IF97).
const ColdDensity = 0.998206

// The fits below were made to IAPWS-IF97 on 0 to 110 °C, in the argument
// x = (t - 55 °C)/55 K that keeps their terms of one size. Past boiling IF97
// is the metastable liquid, good for the few kelvin a kettle can be above it.
const (
	fitMiddle = 55.0
	fitHalf   = 55.0
)

// kg/L, at most 0.000006 off IF97.
var densityFit = [...]float64{
	0.9857073229, -0.02660858033, -0.009438745501, 0.001719525324,
	-0.0006542007561, 0.0004269101719, -0.0002262877815,
}

// J/(kg K), at most 0.16 off IF97.
var waterHeatFit = [...]float64{
	4180.861114, 17.74470303, 33.49530461, -3.114868979,
	-2.498333944, 0.1628303744, 12.97178838, -9.241528389,
}

// J/kg, at most 42 off IF97.
var latentFit = [...]float64{2369882.227, -133511.9213, -4545.147138, -2079.810588}

// fitArgument maps a temperature onto the fits' -1..1. Outside 0 to 110 °C, and
// for a value that is not a number, the nearest end is taken: a polynomial
// must not be followed out of its range.
func fitArgument(t unit.Celsius) float64 {
	x := (float64(t) - fitMiddle) / fitHalf
	if !(x > -1) {
		return -1
	}
	if x > 1 {
		return 1
	}
	return x
}

func polynomial(coefficients []float64, x float64) float64 {
	sum := 0.0
	for i := len(coefficients) - 1; i >= 0; i-- {
		sum = sum*x + coefficients[i]
	}
	return sum
}

// WaterDensity is the density of liquid water at 101 325 Pa, kg/L, within
// 0.00001 of IF97 from 0 to 110 °C; outside, the value at the nearer end.
func WaterDensity(t unit.Celsius) float64 {
	return polynomial(densityFit[:], fitArgument(t))
}

// WaterHeatAt is the specific heat of liquid water at 101 325 Pa, J/(kg K),
// within 0.2 of IF97 from 0 to 110 °C; outside, the value at the nearer end.
func WaterHeatAt(t unit.Celsius) float64 {
	return polynomial(waterHeatFit[:], fitArgument(t))
}

// WaterEnergy is what a kilogram of water takes up from one temperature to
// another at 101 325 Pa: the integral of WaterHeatAt, within 0.02 kJ/kg of
// IF97's enthalpy from 0 to 110 °C. Negative when it cools.
func WaterEnergy(from, to unit.Celsius) unit.JoulesPerKilogram {
	primitive := func(t unit.Celsius) float64 {
		x, sum := fitArgument(t), 0.0
		for i := len(waterHeatFit) - 1; i >= 0; i-- {
			sum = sum*x + waterHeatFit[i]/float64(i+1)
		}
		return sum * x * fitHalf
	}
	return unit.JoulesPerKilogram(primitive(to) - primitive(from))
}

// Latent is the heat of evaporation of water on the saturation line, within
// 0.05 kJ/kg of IF97 from 0 to 110 °C; outside, the value at the nearer end.
func Latent(t unit.Celsius) unit.JoulesPerKilogram {
	return unit.JoulesPerKilogram(polynomial(latentFit[:], fitArgument(t)))
}

// ColdMass is the mass of a cold volume of water.
func ColdMass(v unit.Litres) unit.Kilograms { return unit.Kilograms(float64(v) * ColdDensity) }

// ColdVolume is the cold volume of a mass of water.
func ColdVolume(m unit.Kilograms) unit.Litres { return unit.Litres(float64(m) / ColdDensity) }

// HotVolume is the room a cold volume of water takes at t. Wort expands as
// water does to within a tenth of a percent of its volume at these strengths
// (value from memory).
func HotVolume(cold unit.Litres, t unit.Celsius) unit.Litres {
	return unit.Litres(float64(cold) * ColdDensity / WaterDensity(t))
}

// ColdFrom is the cold volume of water that takes a room at t: the inverse of
// HotVolume.
func ColdFrom(hot unit.Litres, t unit.Celsius) unit.Litres {
	return unit.Litres(float64(hot) * WaterDensity(t) / ColdDensity)
}

// Mixture is the temperature of two bodies of water, or of anything with a heat
// capacity, when they have mixed and nothing was lost: the method of mixtures of
// every textbook of physics, heat given by the one is heat taken by the other.
func Mixture(a unit.JoulesPerKelvin, at unit.Celsius, b unit.JoulesPerKelvin, bt unit.Celsius) unit.Celsius {
	share := unit.Celsius(b / (a + b))
	return at + share*(bt-at)
}

// WaterCapacity is the heat capacity of a cold volume of water.
func WaterCapacity(v unit.Litres) unit.JoulesPerKelvin {
	return unit.JoulesPerKelvin(float64(ColdMass(v)) * WaterHeat)
}
