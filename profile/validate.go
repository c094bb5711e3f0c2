package profile

import (
	"fmt"

	"mashward/controller/unit"
	"mashward/profile/strict"
)

// thinnest is the least water a kilogram of grain can be stirred into (common
// practice, no source: mashes are 2.5 to 6 L/kg).
const thinnest unit.LitresPerKilogram = 1.5

// validate checks the steps against each other and against the load. It works
// on what could be read; entries that could not are passed over.
func validate(doc *strict.Doc, m *strict.Map, p Profile) {
	checkLoad(doc, m, p)
	checkOrder(doc, p)
	checkPresence(doc, m, p)
	checkDescents(doc, p)
	checkBoilOff(doc, p)
	checkExpect(doc, p)
}

// checkLoad refuses a grist that the water cannot wet.
func checkLoad(doc *strict.Doc, m *strict.Map, p Profile) {
	if p.Water <= 0 || p.Grain.Mass <= 0 {
		return
	}
	if unit.LitresPerKilogram(float64(p.Water)/float64(p.Grain.Mass)) < thinnest {
		doc.Refuse(m.LineOf("grain"),
			fmt.Sprintf("%s of water is too little for %s of grain", unit.FormatLitres(p.Water), unit.FormatKilograms(p.Grain.Mass)),
			fmt.Sprintf("write at least %s of water, or less grain", unit.FormatLitres(unit.Litres(float64(p.Grain.Mass)*float64(thinnest)))))
	}
}

// rank is the place of a kind in the day. Stands and chills may alternate.
func rank(k Kind) int {
	if k == Chill {
		return int(Stand)
	}
	return int(k)
}

// checkOrder refuses steps that come after one they must precede, and a second
// one of what happens once a day.
func checkOrder(doc *strict.Doc, p Profile) {
	latest, seen := Strike, map[Kind]int{}
	for _, s := range p.Steps {
		if s.Kind == Strike {
			continue
		}
		line, again := seen[s.Kind]
		switch {
		case again && once(s.Kind):
			doc.Refuse(s.Line, fmt.Sprintf("there is a %s in line %d already", s.Kind, line), "keep one of them")
		case rank(s.Kind) < rank(latest):
			doc.Refuse(s.Line, fmt.Sprintf("%s stands after %s", s.Kind, latest), fmt.Sprintf("move it up, before the %s", latest))
		default:
			latest = s.Kind
		}
		if !again {
			seen[s.Kind] = s.Line
		}
	}
}

// once tells which steps a day has at most one of.
func once(k Kind) bool {
	return k == MashIn || k == MashOut || k == Lift || k == Boil
}

// checkPresence refuses grain without a way in or out, and the reverse.
func checkPresence(doc *strict.Doc, m *strict.Map, p Profile) {
	at := map[Kind]int{}
	for _, s := range p.Steps {
		if s.Kind == Strike {
			return // an entry could not be read: it may be the one missed
		}
		at[s.Kind] = s.Line
	}
	if len(p.Steps) == 0 {
		return
	}
	if p.Use == Cleaning && at[Boil] > 0 {
		doc.Refuse(at[Boil], "a boil in a profile for cleaning", "a cleaner is not boiled: take the step out")
	}
	if p.Use != Brew && m.Has("grain") {
		doc.Refuse(m.LineOf("grain"), fmt.Sprintf("grain, and the profile is for %s", p.Use), "take out grain, or use")
		return
	}
	if !m.Has("grain") && p.Use != WaterBrew {
		for _, k := range []Kind{MashIn, Lift} {
			if at[k] > 0 {
				doc.Refuse(at[k], fmt.Sprintf("%s, and the profile has no grain", k), "write grain: {mass: 4.6 kg, temperature: 18 °C}, or take the step out")
			}
		}
		return
	}
	if at[MashIn] == 0 {
		what := "grain"
		if p.Use == WaterBrew {
			what = "a water brew to go through"
		}
		doc.Refuse(p.Steps[0].Line, "the profile has "+what+" and no mash-in", "begin the steps with - {mash-in: 44 °C, for: 15 min}")
	}
	for _, k := range []Kind{Boil, Stand, Chill} {
		if at[k] > 0 && at[Lift] == 0 {
			doc.Refuse(at[k], fmt.Sprintf("a %s with the grain still in the kettle", k), "write - lift before it")
			return
		}
	}
}

// checkDescents warns of a mash step below the one before: a kettle heats, it
// does not cool, so that the brewer must know how he will get there.
func checkDescents(doc *strict.Doc, p Profile) {
	var before *Step
	for i := range p.Steps {
		s := &p.Steps[i]
		if s.Kind != MashIn && s.Kind != Rest && s.Kind != MashOut || s.Target <= 0 {
			continue
		}
		if before != nil && s.Kind != MashIn && s.Target < before.Target {
			doc.Warn(s.Line,
				fmt.Sprintf("%s: %s is below the %s before it", s.Kind, unit.FormatCelsius(s.Target), unit.FormatCelsius(before.Target)),
				fmt.Sprintf("stir in cold water (about %s at 15 °C), or wait until it has cooled", unit.FormatLitres(coldWater(p, before.Target, s.Target))))
		}
		before = s
	}
}

// coldWater is the water of 15 °C that cools the load from one temperature to
// another; a kilogram of grain counts as 0.4 L of water (Palmer, How to Brew).
func coldWater(p Profile, from, to unit.Celsius) unit.Litres {
	const cold unit.Celsius = 15
	if to <= cold+1 {
		to = cold + 1 // colder than that nobody gets it with such water
	}
	load := float64(p.Water) + 0.4*float64(p.Grain.Mass)
	return unit.Litres(load * float64(from-to) / float64(to-cold))
}

// checkBoilOff refuses a boil that would leave nothing.
func checkBoilOff(doc *strict.Doc, p Profile) {
	for _, s := range p.Steps {
		gone := unit.Litres(float64(s.BoilOff) * s.For.Seconds())
		if s.Kind == Boil && p.Water > 0 && gone >= p.Water {
			doc.Refuse(s.Line,
				fmt.Sprintf("the boil takes %s away, and the water is %s", unit.FormatLitres(gone), unit.FormatLitres(p.Water)),
				"write a lower boil_off or a shorter boil")
		}
	}
}
