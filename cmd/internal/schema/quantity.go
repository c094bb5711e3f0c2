package schema

import (
	"regexp"
	"strings"
)

// quantity is how one kind of quantity is written: a number and one of the
// words that package unit knows.
type quantity struct {
	name   string // as in package unit
	offer  string // the units worth offering, for descriptions
	words  []string
	signed bool
}

// The quantities of package unit. A test compares the words.
var (
	celsius = quantity{"celsius", "°C or °F", []string{"°C", "C", "ºC", "℃", "° C", "°F", "F", "ºF", "℉", "° F"}, true}
	kelvin  = quantity{"kelvin", "K", []string{"K"}, true}
	litres  = quantity{"litres", "L, mL, US gal or imp gal", []string{"L", "l", "mL", "ml", "US gal", "imp gal"}, false}
	mass    = quantity{"kilograms", "kg, g, lb or oz", []string{"kg", "g", "lb", "oz"}, false}
	watts   = quantity{"watts", "W or kW", []string{"W", "kW"}, false}
	energy  = quantity{"joules", "kWh, Wh, MJ or kJ", []string{"kWh", "Wh", "MJ", "kJ"}, false}
	metres  = quantity{"metres", "m, cm or mm", []string{"m", "cm", "mm"}, true}
	volts   = quantity{"volts", "V", []string{"V"}, false}
	amperes = quantity{"amperes", "A", []string{"A"}, false}
	ratio   = quantity{"ratio", "%", []string{"%"}, true}
	ramp    = quantity{"rampSpeed", "K/min, K/h or K/s", []string{"K/min", "°C/min", "C/min", "K/h", "°C/h", "C/h", "K/s"}, true}

	heatCapacity   = quantity{"heatCapacity", "J/K or kJ/K", []string{"J/K", "kJ/K"}, false}
	heatTransfer   = quantity{"heatTransfer", "W/K", []string{"W/K"}, false}
	evaporation    = quantity{"evaporation", "W/kPa", []string{"W/kPa"}, false}
	specificEnergy = quantity{"specificEnergy", "kJ/kg or J/kg", []string{"kJ/kg", "J/kg"}, false}
	flow           = quantity{"flow", "L/min or L/h", []string{"L/min", "l/min", "L/h", "l/h"}, false}
	volumePerMass  = quantity{"volumePerMass", "L/kg", []string{"L/kg", "l/kg"}, false}
	duration       = quantity{"durationWords", "s, min, h or d, also 1h15 and 1 h 30 min", []string{"min", "s", "h", "d"}, false}
	// A vessel is a heat capacity, or a mass and what it is made of.
	vessel = quantity{"vessel", "J/K or kJ/K, or as a mass of steel, copper or aluminium", nil, false}
)

// number is a plain decimal number without its sign.
const number = `([0-9]+\.?[0-9]*|\.[0-9]+)`

// blank is any white space, or none, as the readers see it. The two languages of
// expressions differ in what \s is, so that the rest is written out.
const blank = `[\s` + "\v\u0085\u00a0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000" + `]`

// pattern is the regular expression of a written value, in what ECMA 262 and
// Go understand alike.
func (q quantity) pattern() string {
	switch q.name {
	case duration.name:
		return durationPattern
	case vessel.name:
		return "^" + blank + `*\+?` + number + blank + "*(" + alternatives(heatCapacity.words) + "|" +
			"(" + alternatives(mass.words) + ")" + blank + "*(steel|copper|aluminium|aluminum))" + blank + "*$"
	}
	sign := `\+?`
	if q.signed {
		sign = `[-+−]?`
	}
	return "^" + blank + "*" + sign + number + blank + "*(" + alternatives(q.words) + ")" + blank + "*$"
}

// alternatives joins unit words; a space in one may be any blank.
func alternatives(words []string) string {
	quoted := make([]string, len(words))
	for i, w := range words {
		quoted[i] = strings.ReplaceAll(regexp.QuoteMeta(w), " ", blank+"+")
	}
	return strings.Join(quoted, "|")
}

// durationPattern has the larger units first, each at most once; minutes
// straight after hours may go without their unit, as in 1h15.
const durationPattern = "^" + blank + "*(" +
	first + "d(" + next + "h)?(" + next + "min)?(" + next + "s)?|" +
	first + "h(" + next + "min)?(" + next + "s)?|" +
	first + "min(" + next + "s)?|" +
	first + "s|" +
	"(" + first + "d" + next + "|" + first + ")h" + blank + `*[0-9]+\.?[0-9]*(` + blank + "+[0-9]" + rest + "s)?" +
	")" + blank + "*$"

// The first number of a duration and those after it, up to their unit.
const (
	first = `\+?` + number + blank + "*"
	next  = blank + "*[0-9]" + rest
	rest  = `[0-9]*\.?[0-9]*` + blank + "*"
)
