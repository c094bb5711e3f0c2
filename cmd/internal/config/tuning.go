package config

import (
	"fmt"
	"strings"
	"time"

	"mashward/controller/observer"
	"mashward/controller/unit"
	"mashward/profile/strict"
)

// Tuning is what a water test found out about a kettle.
type Tuning struct {
	Name     string
	Power    unit.Watts           // effective, with the capacity below taken as known
	Water    unit.Litres          // of the test
	Capacity unit.JoulesPerKelvin // of that water and the vessel
	Loss     unit.WattsPerKelvin  // lid on
	Element  time.Duration        // lag of the element
	Probe    time.Duration        // lag of the probe
	Delay    time.Duration        // between kettle and reading
	Mixing   time.Duration        // in which the kettle evens out
	Share    unit.Ratio           // of the capacity that heats at once
	Noise    unit.Kelvin          // of a reading
	Residual unit.Kelvin          // what the model left
	Doubt    unit.Ratio           // standard error of power over capacity
}

// Model is the kettle with the water of the test in it, in a room of 0 °C.
func (t Tuning) Model() observer.Model {
	heated := unit.JoulesPerKelvin(float64(t.Share)) * t.Capacity
	mash := t.Capacity - heated
	return observer.Model{
		Power: t.Power, Element: t.Element, Heated: heated, Mash: mash, Loss: t.Loss, Probe: t.Probe, Delay: t.Delay,
		Exchange: unit.WattsPerKelvin(float64(mash) / max(t.Mixing.Seconds(), 1)), Noise: t.Noise,
	}
}

// TuningOf writes down an identified model.
func TuningOf(name string, water unit.Litres, m observer.Model, noise, residual unit.Kelvin, doubt float64) Tuning {
	return Tuning{
		Name: name, Power: m.Power, Water: water, Capacity: m.Capacity(), Loss: m.Loss, Element: m.Element, Probe: m.Probe,
		Delay: m.Delay, Mixing: time.Duration(float64(m.Mash) / float64(m.Exchange) * float64(time.Second)),
		Share: unit.Ratio(m.Heated / m.Capacity()), Noise: noise, Residual: residual, Doubt: unit.Ratio(doubt),
	}
}

// ParseTuning reads a tuning file, strictly.
func ParseTuning(name string, text []byte) (Tuning, []strict.Fault) {
	doc := strict.Parse(name, text)
	m := doc.Map(strict.Keys{"tuning", "power", "water", "capacity", "loss", "lags", "share", "noise", "residual", "doubt"})
	t := Tuning{
		Name:     m.Text("tuning", strict.Required, strict.Example("Yard kettle")),
		Power:    m.Watts("power", strict.Required, strict.Between(200, 30000)),
		Water:    m.Litres("water", strict.Required, strict.Between(1, 300)),
		Capacity: m.JoulesPerKelvin("capacity", strict.Required, strict.Between(2e3, 2e6)),
		Loss:     m.WattsPerKelvin("loss", strict.Required, strict.Between(0.1, 200)),
		Share:    m.Ratio("share", strict.Between(0.001, 0.999), strict.Default(0.5)),
		Noise:    m.Kelvin("noise", strict.Between(0, 1)),
		Residual: m.Kelvin("residual", strict.Between(0, 1)),
		Doubt:    m.Ratio("doubt", strict.Between(0, 1)),
	}
	l := m.Map("lags", strict.Keys{"element", "probe", "delay", "mixing"}, strict.Required)
	lag := func(key string, most time.Duration) time.Duration {
		return l.Duration(key, strict.Required, strict.Between(0, most), strict.Example("9 s"))
	}
	t.Element, t.Probe = lag("element", 2*time.Minute), lag("probe", 3*time.Minute)
	t.Delay, t.Mixing = lag("delay", observer.MostDelay), lag("mixing", time.Hour)
	if doc.Refused() {
		return Tuning{}, doc.Faults()
	}
	return t, doc.Faults()
}

// Text is the tuning as a file that ParseTuning reads back.
func (t Tuning) Text() []byte {
	var b strings.Builder
	fmt.Fprintf(&b, "# Written by a water test. Do not mend figures by hand: test again.\n")
	fmt.Fprintf(&b, "tuning: %s\n", plainOrQuoted(t.Name))
	fmt.Fprintf(&b, "power: %.1f W          # effective, with the capacity below\n", float64(t.Power))
	fmt.Fprintf(&b, "water: %.2f L\n", float64(t.Water))
	fmt.Fprintf(&b, "capacity: %.0f J/K     # of that water and the vessel\n", float64(t.Capacity))
	fmt.Fprintf(&b, "loss: %.3f W/K\n", float64(t.Loss))
	fmt.Fprintf(&b, "lags: {element: %.1f s, probe: %.1f s, delay: %.0f s, mixing: %.0f s}\n",
		t.Element.Seconds(), t.Probe.Seconds(), t.Delay.Seconds(), t.Mixing.Seconds())
	fmt.Fprintf(&b, "share: %.1f %%           # of the capacity that heats at once\n", 100*float64(t.Share))
	fmt.Fprintf(&b, "noise: %.4f K\nresidual: %.4f K\ndoubt: %.2f %%\n", float64(t.Noise), float64(t.Residual), 100*float64(t.Doubt))
	return []byte(b.String())
}

// LoadTuning reads a tuning file. The error is a *Failure with exit code 66, 74,
// 77 or 78.
func LoadTuning(path string) (Tuning, []strict.Fault, error) {
	return load(path, ExitBadRig, ParseTuning)
}

// Tuned is the rig with what a test found in place of what was declared.
func (r Rig) Tuned(t Tuning) Rig {
	r.Found = &t
	return r
}
