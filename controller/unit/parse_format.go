package unit

import (
	"math"
	"strconv"
	"strings"
	"time"
)

// The Format functions are the one place where quantities are rounded for
// people. What they print parses back to the same value within the rounding.

// format prints a value in the first unit of q, trailing zeros dropped.
func (q quantity) format(inside float64) string {
	return q.formatIn(inside, q.units[0], q.decimals)
}

// formatIn prints a value in one of q's units.
func (q quantity) formatIn(inside float64, s scale, decimals int) string {
	if math.IsNaN(inside) || math.IsInf(inside, 0) {
		return "unknown"
	}
	return trimmed(inside/s.factor-s.offset, decimals) + join(s.word)
}

// trimmed is a number of at most so many decimals, without trailing zeros and
// without a minus sign before a zero.
func trimmed(value float64, decimals int) string {
	text := strconv.FormatFloat(value, 'f', decimals, 64)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	if text == "-0" {
		return "0"
	}
	return text
}

// FormatCelsius prints a temperature to 0.1 °C.
func FormatCelsius(v Celsius) string { return celsius.format(float64(v)) }

// FormatKelvin prints a difference to 0.01 K.
func FormatKelvin(v Kelvin) string { return kelvin.format(float64(v)) }

// FormatLitres prints a volume to 0.1 L.
func FormatLitres(v Litres) string { return litres.format(float64(v)) }

// FormatKilograms prints a mass to 10 g.
func FormatKilograms(v Kilograms) string { return kilograms.format(float64(v)) }

// FormatWatts prints a power to 1 W.
func FormatWatts(v Watts) string { return watts.format(float64(v)) }

// FormatMetres prints an altitude or a length to 1 mm, in m.
func FormatMetres(v Metres) string { return metres.format(float64(v)) }

// FormatCentimetres prints a length to 1 mm, in cm, as read off a dipstick.
func FormatCentimetres(v Metres) string {
	return metres.formatIn(float64(v), metres.units[1], 1)
}

// FormatVolts prints a voltage to 0.1 V.
func FormatVolts(v Volts) string { return volts.format(float64(v)) }

// FormatAmperes prints a current to 0.1 A.
func FormatAmperes(v Amperes) string { return amperes.format(float64(v)) }

// FormatRatio prints a share to 0.1 %.
func FormatRatio(v Ratio) string { return ratio.format(float64(v)) }

// FormatKelvinPerSecond prints a rate to 0.01 K/min.
func FormatKelvinPerSecond(v KelvinPerSecond) string { return rampSpeed.format(float64(v)) }

// FormatJoulesPerKelvin prints a heat capacity to 1 J/K.
func FormatJoulesPerKelvin(v JoulesPerKelvin) string { return heatCapacity.format(float64(v)) }

// FormatWattsPerKelvin prints a heat transfer to 0.01 W/K.
func FormatWattsPerKelvin(v WattsPerKelvin) string { return heatTransfer.format(float64(v)) }

// FormatWattsPerPascal prints an evaporation to 0.01 W/kPa.
func FormatWattsPerPascal(v WattsPerPascal) string { return evaporation.format(float64(v)) }

// FormatJoulesPerKilogram prints a heat per mass to 0.01 kJ/kg.
func FormatJoulesPerKilogram(v JoulesPerKilogram) string { return specificEnergy.format(float64(v)) }

// FormatLitresPerSecond prints a flow to 0.01 L/min.
func FormatLitresPerSecond(v LitresPerSecond) string { return flow.format(float64(v)) }

// FormatLitresPerHour prints a slow flow such as boil-off to 0.01 L/h.
func FormatLitresPerHour(v LitresPerSecond) string {
	return flow.formatIn(float64(v), flow.units[2], 2)
}

// FormatLitresPerKilogram prints a volume per mass to 0.01 L/kg.
func FormatLitresPerKilogram(v LitresPerKilogram) string { return volumePerMass.format(float64(v)) }

// FormatJoules prints energy as people are billed for it, to 0.01 kWh.
func FormatJoules(v Joules) string { return joules.format(float64(v)) }

// FormatDuration prints a time to the second: "35 min", "1 h 15 min",
// "2 min 30 s", "0.75 s".
func FormatDuration(d time.Duration) string {
	if d < 0 {
		if d == math.MinInt64 {
			d++ // the one value without a positive twin
		}
		return "-" + FormatDuration(-d)
	}
	if d < 10*time.Second {
		return trimmed(d.Seconds(), 2) + " s"
	}
	seconds := int64(d.Round(time.Second) / time.Second)
	var parts []string
	for _, u := range []struct {
		word string
		size int64
	}{{"d", 86400}, {"h", 3600}, {"min", 60}, {"s", 1}} {
		if n := seconds / u.size; n > 0 {
			parts = append(parts, strconv.FormatInt(n, 10)+" "+u.word)
			seconds -= n * u.size
		}
	}
	return strings.Join(parts, " ")
}
