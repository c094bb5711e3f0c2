package config

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"

	"mashward/controller/unit"
	"mashward/profile/strict"
)

// Tariff is what energy costs. The zero value: not said.
type Tariff struct {
	PerKilowattHour float64
	Currency        string // three letters, as ISO 4217 has them
}

// written is a price: a plain number of at most five digits before the point, three
// capitals, /kWh.
var written = regexp.MustCompile(`^\s*([0-9]{1,5}(?:\.[0-9]{1,6})?) ?([A-Z]{3}) ?/ ?kWh\s*$`)

const tariffExample = "0.32 EUR/kWh"

// ParseTariff reads a price as 0.32 EUR/kWh. The error is a *unit.TextError.
func ParseTariff(text string) (Tariff, error) {
	m := written.FindStringSubmatch(text)
	if m == nil {
		return Tariff{}, &unit.TextError{
			What:   fmt.Sprintf("%q is no price of energy", text),
			Remedy: "write a number, three capitals for the currency and /kWh, such as " + tariffExample,
		}
	}
	price, err := strconv.ParseFloat(m[1], 64)
	if err != nil {
		return Tariff{}, err
	}
	return Tariff{price, m[2]}, nil
}

// String is the price as ParseTariff reads it; "" for none.
func (t Tariff) String() string {
	if t.Currency == "" {
		return ""
	}
	return strconv.FormatFloat(t.PerKilowattHour, 'f', -1, 64) + " " + t.Currency + "/kWh"
}

// parseTariff reads it out of a rig's supply.
func parseTariff(s *strict.Map) (t Tariff) {
	text := s.Text("tariff", strict.Example(tariffExample))
	if text == "" || !s.Sound("tariff") {
		return t
	}
	t, err := ParseTariff(text)
	var bad *unit.TextError
	if errors.As(err, &bad) {
		s.Refuse("tariff", bad.What, bad.Remedy)
	}
	return t
}
