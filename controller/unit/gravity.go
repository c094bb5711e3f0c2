package unit

import (
	"math"
	"strconv"
	"strings"
)

// SpecificGravity is the density of wort at 20 °C over that of water at 20 °C.
// 1 is water; 0 is not known.
type SpecificGravity float64

// Plato is extract in wort: grams in 100 g, in degrees Plato.
type Plato float64

// Brix is what the scale of a refractometer shows: grams of sucrose in 100 g.
type Brix float64

// Between these a bare number is a specific gravity and nothing else: no wort
// is lighter, and none heavier can be boiled in a kettle.
const (
	lightest SpecificGravity = 0.98
	heaviest SpecificGravity = 1.2
)

const gravityExample = "1.050"

var (
	plato = quantity{noun: "a strength of wort", example: "12.4 °P", decimals: 1, units: []scale{
		{"°P", 1, 0}, {"P", 1, 0}, {"ºP", 1, 0}, {"° P", 1, 0},
	}}
	brix = quantity{noun: "a reading of a refractometer", example: "12.9 °Bx", decimals: 1, units: []scale{
		{"°Bx", 1, 0}, {"Bx", 1, 0}, {"ºBx", 1, 0}, {"° Bx", 1, 0},
	}}
)

// ParseSpecificGravity reads a specific gravity, which has no unit: "1.050",
// or "1.050 SG". A number that can be none, such as 1050 or 12.4, is refused.
func ParseSpecificGravity(text string) (SpecificGravity, error) {
	number, word, err := split(text, gravityExample)
	if err != nil {
		return 0, err
	}
	if word != "" && word != "SG" {
		return 0, &TextError{quote(text) + " is no specific gravity", "write it as a bare number, as in " + gravityExample}
	}
	value, err := strconv.ParseFloat(number, 64)
	if v := SpecificGravity(value); err == nil && v >= lightest && v <= heaviest {
		return v, nil
	}
	remedy := "write " + gravityExample + ", or " + plato.example
	if v := SpecificGravity(value / 1000); v >= lightest && v <= heaviest {
		remedy = "write " + FormatSpecificGravity(v)
	}
	return 0, &TextError{quote(text) + " is no specific gravity of wort", remedy}
}

// ParsePlato reads degrees Plato: "12.4 °P", "12.4P".
func ParsePlato(text string) (Plato, error) {
	v, err := plato.parse(text)
	return Plato(v), err
}

// ParseBrix reads degrees Brix: "12.9 °Bx", "12.9Bx".
func ParseBrix(text string) (Brix, error) {
	v, err := brix.parse(text)
	return Brix(v), err
}

// FormatSpecificGravity prints a gravity to 0.001, as a hydrometer is read:
// "1.050".
func FormatSpecificGravity(v SpecificGravity) string {
	if math.IsNaN(float64(v)) || math.IsInf(float64(v), 0) {
		return "unknown"
	}
	return strconv.FormatFloat(float64(v), 'f', 3, 64)
}

// FormatPlato prints to 0.1 °P.
func FormatPlato(v Plato) string { return plato.format(float64(v)) }

// FormatBrix prints to 0.1 °Bx.
func FormatBrix(v Brix) string { return brix.format(float64(v)) }

// IsPlato and IsBrix tell which scale a text is written in; a text of neither
// is taken for a specific gravity by whoever reads all three.
func IsPlato(text string) bool { return endsIn(text, plato) }

// IsBrix tells whether a text is written in degrees Brix.
func IsBrix(text string) bool { return endsIn(text, brix) }

func endsIn(text string, q quantity) bool {
	_, word, err := split(text, q.example)
	if err != nil {
		return false
	}
	_, ok := q.find(strings.TrimSpace(word))
	return ok
}
