package heat

import (
	"math"

	"mashward/controller/unit"
)

const absoluteZero = 273.15 // K at 0 °C

// Coefficients of the saturation line, IAPWS R7-97(2012), table 34: reduced
// quantities for pressure in MPa and temperature in K.
var saturation = [...]float64{
	0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
	0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3,
}

// The saturation line's ends: the lower one of IF97, and the critical point.
const (
	lowestSaturation  unit.Pascals = 611.212677
	highestSaturation unit.Pascals = 22.064e6
	criticalPoint     unit.Celsius = 647.096 - absoluteZero
)

// SaturationPressure is the vapour pressure of water (IAPWS-IF97 region 4,
// equation 30). Outside 0 to 373.946 °C, and for a value that is not a number,
// it is the pressure at the nearer end, the lower one for no number.
func SaturationPressure(t unit.Celsius) unit.Pascals {
	if !(t > 0) {
		t = 0
	}
	kelvin := math.Min(float64(t), float64(criticalPoint)) + absoluteZero
	n := &saturation
	theta := kelvin + n[8]/(kelvin-n[9])
	a := theta*theta + n[0]*theta + n[1]
	b := n[2]*theta*theta + n[3]*theta + n[4]
	c := n[5]*theta*theta + n[6]*theta + n[7]
	root := 2 * c / (-b + math.Sqrt(b*b-4*a*c))
	return unit.Pascals(root * root * root * root * 1e6)
}

// BoilingPoint is the temperature at which water boils under a pressure: the
// saturation temperature (IAPWS-IF97 region 4, equation 31). Outside 611 Pa to
// 22 MPa, and for a value that is not a number, it is the temperature at the
// nearer end, the lower one for no number: a missing pressure never loosens a
// limit that hangs on the boiling point.
func BoilingPoint(p unit.Pascals) unit.Celsius {
	if !(p > lowestSaturation) {
		p = lowestSaturation
	}
	if p > highestSaturation {
		p = highestSaturation
	}
	n := &saturation
	beta := math.Sqrt(math.Sqrt(float64(p) / 1e6))
	e := beta*beta + n[2]*beta + n[5]
	f := n[0]*beta*beta + n[3]*beta + n[6]
	g := n[1]*beta*beta + n[4]*beta + n[7]
	d := 2 * g / (-f - math.Sqrt(f*f-4*e*g))
	sum := n[9] + d
	kelvin := (sum - math.Sqrt(sum*sum-4*(n[8]+n[9]*d))) / 2
	return unit.Celsius(kelvin - absoluteZero)
}

// The standard atmosphere below 11 km, ISO 2533:1975.
const (
	seaLevelPressure    = 101325.0  // Pa
	seaLevelTemperature = 288.15    // K
	lapse               = 0.0065    // K/m
	standardGravity     = 9.80665   // m/s²
	airConstant         = 287.05287 // J/(kg K)
	lowestAltitude      = -2000.0   // m, where the standard's first layer begins
	highestAltitude     = 11000.0   // m, where it ends
)

// PressureAt is the pressure of the standard atmosphere at a geopotential
// altitude (ISO 2533, first layer). Weather moves the real pressure by some
// 3 kPa, so the boiling point by some 0.8 K. Altitudes outside -2000 to
// 11000 m are taken as the nearer end; a value that is not a number is taken
// as the high end, where water boils coldest.
func PressureAt(altitude unit.Metres) unit.Pascals {
	h := float64(altitude)
	if !(h < highestAltitude) {
		h = highestAltitude
	}
	h = math.Max(h, lowestAltitude)
	exponent := standardGravity / (airConstant * lapse)
	return unit.Pascals(seaLevelPressure * math.Pow(1-lapse*h/seaLevelTemperature, exponent))
}

// BoilingPointAt is the boiling point of water at a site's altitude in the
// standard atmosphere. Wort boils some 0.1 to 0.3 K higher, and a deep kettle
// a little higher still at its floor.
func BoilingPointAt(altitude unit.Metres) unit.Celsius {
	return BoilingPoint(PressureAt(altitude))
}
