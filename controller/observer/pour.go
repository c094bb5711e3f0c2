package observer

import "mashward/controller/unit"

// Scaled is the model with power, load, exchange and loss so many times as large:
// it heats and cools as before.
func (m Model) Scaled(by float64) Model {
	m.Power *= unit.Watts(by)
	m.Heated, m.Mash = m.Heated*unit.JoulesPerKelvin(by), m.Mash*unit.JoulesPerKelvin(by)
	m.Exchange, m.Loss = m.Exchange*unit.WattsPerKelvin(by), m.Loss*unit.WattsPerKelvin(by)
	return m
}

// Scaled is the state for a model that was scaled.
func (s State) Scaled(by float64) State {
	s.X[power] *= by
	s.X[extra] *= by
	return s
}

// Pushed is the state with so much more power at work that nobody declared.
func (f *Filter) Pushed(s State, by unit.Watts) State {
	s.X[extra] += float64(by)
	return s
}

// Moved is the state with all that stands in the kettle warmer by so much, and
// with another power that nobody declared.
func (f *Filter) Moved(s State, by unit.Celsius, with unit.Watts) State {
	s.X[heated] += float64(by)
	s.X[mash] += float64(by)
	s.X[extra] = float64(with)
	return s
}

// Poured is the state when something of heat capacity c and temperature at went
// into the heated part, of which as much then runs on to the mash as the model
// after it, to, has there. No heat is lost. The probe follows by itself.
func (f *Filter) Poured(s State, c unit.JoulesPerKelvin, at unit.Celsius, to *Filter) State {
	c1, c2 := float64(f.Model.Heated), float64(f.Model.Mash)
	out := (c1*s.X[heated] + float64(c)*float64(at)) / (c1 + float64(c))
	ran := float64(to.Model.Mash) - c2
	s.X[mash] = (c2*s.X[mash] + ran*out) / (c2 + ran)
	s.X[heated] = out
	return s
}
