package config

import (
	"math"
	"strconv"

	"mashward/controller/unit"
)

// The Format functions of package unit round for people. What is written here
// is read again, and is to mean the same.

// fewDigits is what people write by hand.
const fewDigits = 6

// exact writes a quantity so that it reads back the same, but for the last bit
// that a change of unit may cost. The units are tried in their order for a figure
// of few digits; without one, the shortest text is taken.
func exact[T ~float64](value T, parse func(string) (T, error), words ...string) string {
	best, least := "", math.MaxInt
	for _, word := range words {
		text, digits := shortest(value, parse, word)
		if digits <= fewDigits {
			return text
		}
		if digits < least {
			best, least = text, digits
		}
	}
	return best
}

// shortest writes a quantity in one unit with the fewest digits that read back
// the same.
func shortest[T ~float64](value T, parse func(string) (T, error), word string) (text string, digits int) {
	const lastBits = 4.5e-16      // two units in the last place
	zero, _ := parse("0 " + word) // a unit that parse knows
	one, _ := parse("1 " + word)
	written := (float64(value) - float64(zero)) / float64(one-zero)
	for digits = 1; digits <= 17; digits++ {
		rounded, _ := strconv.ParseFloat(strconv.FormatFloat(written, 'e', digits-1, 64), 64)
		text = strconv.FormatFloat(rounded, 'f', -1, 64) + " " + word
		if back, err := parse(text); err == nil && math.Abs(float64(back-value)) <= lastBits*math.Abs(float64(value)) {
			break
		}
	}
	return text, digits
}

func temperature(v unit.Celsius) string { return exact(v, unit.ParseCelsius, "°C", "°F") }
func difference(v unit.Kelvin) string   { return exact(v, unit.ParseKelvin, "K") }
func volume(v unit.Litres) string       { return exact(v, unit.ParseLitres, "L", "US gal", "imp gal") }

func mass(v unit.Kilograms) string { return exact(v, unit.ParseKilograms, "kg", "g", "lb", "oz") }
func watts(v unit.Watts) string    { return exact(v, unit.ParseWatts, "W", "kW") }
func volts(v unit.Volts) string    { return exact(v, unit.ParseVolts, "V") }
func height(v unit.Metres) string  { return exact(v, unit.ParseMetres, "m", "cm", "mm") }
func energy(v unit.Joules) string  { return exact(v, unit.ParseJoules, "kWh", "Wh", "MJ", "kJ") }
func share(v unit.Ratio) string    { return exact(v, unit.ParseRatio, "%") }
func flow(v unit.LitresPerSecond) string {
	return exact(v, unit.ParseLitresPerSecond, "L/min", "L/h")
}
func vapour(v unit.WattsPerPascal) string { return exact(v, unit.ParseWattsPerPascal, "W/kPa") }
func transfer(v unit.WattsPerKelvin) string {
	return exact(v, unit.ParseWattsPerKelvin, "W/K")
}

func heatCapacity(v unit.JoulesPerKelvin) string {
	return exact(v, unit.ParseJoulesPerKelvin, "J/K", "kJ/K")
}

func wetting(v unit.JoulesPerKilogram) string {
	return exact(v, unit.ParseJoulesPerKilogram, "kJ/kg", "J/kg")
}

func retention(v unit.LitresPerKilogram) string {
	return exact(v, unit.ParseLitresPerKilogram, "L/kg")
}
