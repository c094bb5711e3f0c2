package strict

import (
	"errors"
	"math"
	"strconv"
	"time"

	"mashward/controller/unit"
)

// Option says what a reader wants of a value.
type Option func(*want)

// want is what the options add up to. Values are in the reader's own unit.
type want struct {
	required bool
	bounded  bool
	lo, hi   float64
	value    float64 // fallback
	text     string  // fallback of Text and Word
	example  string
	runes    int // longest Text
}

// within tells whether a value is in the range, bounds included: 10 K/min
// written is 10 K/min as a bound, whatever the last bit of the conversion says.
// A bound of zero converts exactly.
func (w want) within(v float64) bool {
	return v >= w.lo-slack(w.lo) && v <= w.hi+slack(w.hi)
}

// slack is what a bound forgives: far more than a conversion loses, far less
// than anybody writes.
func slack(bound float64) float64 { return 1e-9 * math.Abs(bound) }

func wants(options []Option) want {
	w := want{runes: 64}
	for _, o := range options {
		o(&w)
	}
	return w
}

// numeric is what a bound or a fallback may be given as: a quantity in the unit
// the reader returns (°C, L, kg, W, ...), a time.Duration or a plain number.
type numeric interface {
	~float64 | ~int64 | ~int
}

// Required makes a missing key a fault.
func Required(w *want) { w.required = true }

// Between refuses values outside lo..hi. For durations give time.Durations.
func Between[T numeric](lo, hi T) Option {
	return func(w *want) { w.bounded, w.lo, w.hi = true, float64(lo), float64(hi) }
}

// Default is what a missing key stands for.
func Default[T numeric](value T) Option {
	return func(w *want) { w.value = float64(value) }
}

// DefaultText is what a missing Text or Word stands for.
func DefaultText(text string) Option {
	return func(w *want) { w.text = text }
}

// DefaultYes makes a missing yes-or-no key a yes.
func DefaultYes(w *want) { w.value = 1 }

// Example is a value to show in remedies, as it would be written.
func Example(text string) Option {
	return func(w *want) { w.example = text }
}

// MaxRunes is the longest Text accepted, in characters.
func MaxRunes(n int) Option {
	return func(w *want) { w.runes = n }
}

// Value reads a quantity with a parser of the caller's own, for what can be
// written in more than one way. Errors of type *unit.TextError are reported
// with their remedy, others with the example. format prints the bounds.
func Value[T numeric](m *Map, key string, parse func(string) (T, error), format func(T) string, example string, options ...Option) T {
	return read(m, key, parse, format, example, options)
}

// read is the way every quantity is read: find, parse, check the range.
func read[T numeric](m *Map, key string, parse func(string) (T, error), format func(T) string, example string, options []Option) T {
	w := wants(options)
	text, ok := m.scalar(key, w, example)
	if !ok {
		return T(w.value)
	}
	value, err := parse(text)
	if err != nil {
		var bad *unit.TextError
		if errors.As(err, &bad) {
			m.Refuse(key, bad.What, bad.Remedy)
		} else {
			m.Refuse(key, err.Error(), "write "+example)
		}
		return T(w.value)
	}
	if w.bounded && !w.within(float64(value)) {
		m.Refuse(key, text+" is outside "+format(T(w.lo))+" to "+format(T(w.hi)), "write a value within")
		return T(w.value)
	}
	return value
}

// Celsius reads a temperature.
func (m *Map) Celsius(key string, options ...Option) unit.Celsius {
	return read(m, key, unit.ParseCelsius, unit.FormatCelsius, "63 °C", options)
}

// Kelvin reads a temperature difference.
func (m *Map) Kelvin(key string, options ...Option) unit.Kelvin {
	return read(m, key, unit.ParseKelvin, unit.FormatKelvin, "1 K", options)
}

// Litres reads a volume.
func (m *Map) Litres(key string, options ...Option) unit.Litres {
	return read(m, key, unit.ParseLitres, unit.FormatLitres, "26 L", options)
}

// Kilograms reads a mass.
func (m *Map) Kilograms(key string, options ...Option) unit.Kilograms {
	return read(m, key, unit.ParseKilograms, unit.FormatKilograms, "4.6 kg", options)
}

// Watts reads a power.
func (m *Map) Watts(key string, options ...Option) unit.Watts {
	return read(m, key, unit.ParseWatts, unit.FormatWatts, "3000 W", options)
}

// Joules reads an energy.
func (m *Map) Joules(key string, options ...Option) unit.Joules {
	return read(m, key, unit.ParseJoules, unit.FormatJoules, "9 kWh", options)
}

// Duration reads a time.
func (m *Map) Duration(key string, options ...Option) time.Duration {
	return read(m, key, unit.ParseDuration, unit.FormatDuration, "35 min", options)
}

// KelvinPerSecond reads a rate of temperature change.
func (m *Map) KelvinPerSecond(key string, options ...Option) unit.KelvinPerSecond {
	return read(m, key, unit.ParseKelvinPerSecond, unit.FormatKelvinPerSecond, "1 K/min", options)
}

// Metres reads a length or an altitude.
func (m *Map) Metres(key string, options ...Option) unit.Metres {
	return read(m, key, unit.ParseMetres, unit.FormatMetres, "340 m", options)
}

// Volts reads a voltage.
func (m *Map) Volts(key string, options ...Option) unit.Volts {
	return read(m, key, unit.ParseVolts, unit.FormatVolts, "230 V", options)
}

// Amperes reads a current.
func (m *Map) Amperes(key string, options ...Option) unit.Amperes {
	return read(m, key, unit.ParseAmperes, unit.FormatAmperes, "16 A", options)
}

// Ratio reads a share in %.
func (m *Map) Ratio(key string, options ...Option) unit.Ratio {
	return read(m, key, unit.ParseRatio, unit.FormatRatio, "4 %", options)
}

// JoulesPerKelvin reads a heat capacity.
func (m *Map) JoulesPerKelvin(key string, options ...Option) unit.JoulesPerKelvin {
	return read(m, key, unit.ParseJoulesPerKelvin, unit.FormatJoulesPerKelvin, "4.1 kJ/K", options)
}

// JoulesPerKilogram reads a heat per mass.
func (m *Map) JoulesPerKilogram(key string, options ...Option) unit.JoulesPerKilogram {
	return read(m, key, unit.ParseJoulesPerKilogram, unit.FormatJoulesPerKilogram, "10 kJ/kg", options)
}

// WattsPerKelvin reads a heat transfer.
func (m *Map) WattsPerKelvin(key string, options ...Option) unit.WattsPerKelvin {
	return read(m, key, unit.ParseWattsPerKelvin, unit.FormatWattsPerKelvin, "7 W/K", options)
}

// WattsPerPascal reads an evaporation.
func (m *Map) WattsPerPascal(key string, options ...Option) unit.WattsPerPascal {
	return read(m, key, unit.ParseWattsPerPascal, unit.FormatWattsPerPascal, "6 W/kPa", options)
}

// LitresPerSecond reads a flow.
func (m *Map) LitresPerSecond(key string, options ...Option) unit.LitresPerSecond {
	return read(m, key, unit.ParseLitresPerSecond, unit.FormatLitresPerSecond, "6 L/min", options)
}

// LitresPerKilogram reads a volume per mass.
func (m *Map) LitresPerKilogram(key string, options ...Option) unit.LitresPerKilogram {
	return read(m, key, unit.ParseLitresPerKilogram, unit.FormatLitresPerKilogram, "0.8 L/kg", options)
}

// Count reads a whole number without a unit, such as a step's index.
func (m *Map) Count(key string, options ...Option) int {
	return read(m, key, parseCount, number, "1", options)
}

func parseCount(text string) (int, error) {
	n, err := strconv.Atoi(text)
	if err != nil {
		return 0, &unit.TextError{What: show(text) + " is not a whole number", Remedy: "write one, such as 1"}
	}
	return n, nil
}

func number(n int) string { return strconv.Itoa(n) }
