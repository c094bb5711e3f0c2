package fault

import (
	"time"

	"mashward/controller/unit"
	"mashward/profile/strict"
)

// Parse reads a fault script. With a fault of the file that is no warning, the
// script is not to be used.
func Parse(name string, text []byte) (Script, []strict.Fault) {
	doc := strict.Parse(name, text)
	return Read(doc.Map(strict.Keys{"faults"}), strict.Required), doc.Faults()
}

// Read reads the script below the key faults of a mapping, for files that hold
// one among other things. What is wrong with it is among the faults of the file.
func Read(m *strict.Map, options ...strict.Option) Script {
	var script Script
	for _, item := range m.List("faults", options...) {
		script = append(script, parseFault(item))
	}
	return script
}

func parseFault(item strict.Item) Fault {
	m := item.Map(strict.Keys{"at", "fault", "for", "value", "chance"})
	word := m.Word("fault", names[1:], strict.Required, strict.Example("relay-welded"))
	f := Default(kindOf(word))
	f.Line = m.Line()
	f.At = parseMoment(m)
	if !m.Sound("fault") {
		return f
	}
	if f.Kind.AtOnce() && m.Has("for") {
		m.Refuse("for", word+" happens at once and has no duration", "take for out")
	} else {
		f.For = m.Duration("for", strict.Default(f.For), strict.Between(time.Second, 48*time.Hour))
	}
	parseValue(m, &f)
	if f.Kind != ProbeSpike && m.Has("chance") {
		m.Refuse("chance", word+" has no chance", "take chance out")
	}
	return f
}

func kindOf(word string) Kind {
	for k := ProbeOpen; k < kinds; k++ {
		if names[k] == word {
			return k
		}
	}
	return NoFault
}

func parseMoment(m *strict.Map) Moment {
	const example = "42 min"
	longest := strict.Between(time.Duration(0), 48*time.Hour)
	if !m.IsMap("at") {
		return Moment{After: m.Duration("at", strict.Required, longest, strict.Example(example))}
	}
	at := m.Map("at", strict.Keys{"step", "after"})
	return Moment{
		OfStep: true,
		Step:   at.Count("step", strict.Required, strict.Between(0, steps-1), strict.Example("3")),
		After:  at.Duration("after", longest, strict.Example("5 min")),
	}
}

// parseValue reads the value in the unit its kind has, or refuses one that has
// no meaning.
func parseValue(m *strict.Map, f *Fault) {
	const key = "value"
	switch f.Kind {
	case ProbeOffset:
		f.Kelvin = m.Kelvin(key, strict.Default(f.Kelvin), strict.Between[unit.Kelvin](-60, 60))
	case ProbeSpike:
		f.Kelvin = m.Kelvin(key, strict.Default(f.Kelvin), strict.Between[unit.Kelvin](-100, 100))
		f.Chance = m.Ratio("chance", strict.Default(f.Chance), strict.Between[unit.Ratio](0, 1))
	case ProbeNoise:
		f.Kelvin = m.Kelvin(key, strict.Default(f.Kelvin), strict.Between[unit.Kelvin](0, 20))
	case ProbeDrift:
		f.Drift = m.KelvinPerSecond(key, strict.Default(f.Drift), strict.Between[unit.KelvinPerSecond](-1, 1))
	case LowVolume:
		f.Share = m.Ratio(key, strict.Default(f.Share), strict.Between[unit.Ratio](0, 1))
	case SupplySag:
		f.Share = m.Ratio(key, strict.Default(f.Share), strict.Between[unit.Ratio](0, 1))
	case Drained:
		f.Flow = m.LitresPerSecond(key, strict.Default(f.Flow), strict.Between[unit.LitresPerSecond](0, 2))
	case ColdWater:
		f.Litres = m.Litres(key, strict.Default(f.Litres), strict.Between[unit.Litres](0, 200))
	case ClockStep:
		f.Duration = m.Duration(key, strict.Default(f.Duration), strict.Between(time.Second, 100*365*24*time.Hour))
	case TickLate:
		f.Duration = m.Duration(key, strict.Default(f.Duration), strict.Between(2*time.Second, time.Hour))
	default:
		if m.Has(key) {
			m.Refuse(key, f.Kind.String()+" has no value", "take value out")
		}
	}
}
