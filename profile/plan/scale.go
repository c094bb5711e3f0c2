package plan

import (
	"fmt"
	"math"
	"regexp"
	"strconv"

	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/gravity"
	"mashward/profile/heat"
)

// Wish is what a brew day is to come to. Zero: not wished for. With a volume or
// a grain alone the mash keeps its litres to the kilogram, with a gravity alone
// the volume in the fermenter stays.
type Wish struct {
	Volume  unit.Litres          // into the fermenter, cold
	Gravity unit.SpecificGravity // the original gravity
	Grain   unit.Kilograms
}

// Scaled is a profile of another size, rounded to what can be measured out.
type Scaled struct {
	Profile profile.Profile
	Factor  float64  // of the volume in the fermenter
	Changes []string // full sentences: what became of the profile
}

// Scale works a day out backwards: water and grain that meet the wish on this
// kettle, with the boil at its vigour and the additions in proportion. Whether
// the day fits the kettle is for Make to say. The error is a *gravity.Refusal.
func Scale(p profile.Profile, k Kettle, w Wish) (Scaled, error) {
	before, boil, err := template(p, k)
	if err != nil {
		return Scaled{}, err
	}
	was, err := before.Course()
	if err != nil {
		return Scaled{}, err
	}
	after, err := w.brew(before, was)
	if err != nil {
		return Scaled{}, err
	}
	after.Water, after.Grain = measured(after.Water, 10, 10), measured(after.Grain, 1, 100)
	is, err := after.Course()
	if err != nil {
		return Scaled{}, err
	}
	s := Scaled{Profile: p, Factor: float64(is.Fermenter.Volume / was.Fermenter.Volume)}
	s.Profile.Water, s.Profile.Grain.Mass = after.Water, after.Grain
	s.Profile.Steps = append([]profile.Step(nil), p.Steps...)
	s.compare(before, after, was, is)
	s.scaleBoil(boil, after.Boil.Share, is)
	s.scaleAdditions()
	return s, nil
}

// Fitting is the range of volumes in the fermenter, to half a litre, at which a
// day of the wished gravity fits the kettle; without a gravity the mash keeps
// its litres to the kilogram. Zero: none does.
func Fitting(p profile.Profile, k Kettle, g unit.SpecificGravity) (least, most unit.Litres) {
	const step unit.Litres = 0.5
	for v := step; v < k.Capacity; v += step {
		s, err := Scale(p, k, Wish{Volume: v, Gravity: g})
		if err != nil {
			continue
		}
		if _, problems := Make(s.Profile, k); Refused(problems) {
			continue
		}
		if least == 0 {
			least = v
		}
		most = v
	}
	return least, most
}

// template is a profile as a brew on this kettle, and which of its steps is the
// boil (-1: none). A boil-off that the profile names counts as a share of the
// wort, so that it can be carried over.
func template(p profile.Profile, k Kettle) (gravity.Brew, int, error) {
	g, boil, lifted := p.Grain, -1, false
	for i, s := range p.Steps {
		lifted = lifted || s.Kind == profile.Lift
		if s.Kind == profile.Boil {
			boil = i
		}
	}
	if g.Mass == 0 || !lifted {
		return gravity.Brew{}, 0, &gravity.Refusal{What: "this profile has no grain, or does not lift it out: there is no wort to work back from", Remedy: "choose a profile with grain and a lift"}
	}
	b := gravity.Brew{
		Water: p.Water, Grain: g.Mass, Retention: k.Retention, Trub: p.Trub,
		Malt: gravity.Malt{Moisture: g.Moisture, Extract: g.Extract, Conversion: g.Conversion},
	}
	if boil < 0 {
		return b, boil, nil
	}
	s := p.Steps[boil]
	b.Boil = gravity.Boil{For: s.For, Share: defaultVigour, Most: k.mostBoilOff(heat.BoilingPointAt(k.Altitude))}
	if preBoil := p.Water - heat.Retention(g.Mass, k.Retention); s.BoilOff > 0 && preBoil > 0 {
		b.Boil.Share = unit.Ratio(perHour(s.BoilOff) / float64(preBoil))
	}
	return b, boil, nil
}

// brew is the brew that meets the wish.
func (w Wish) brew(b gravity.Brew, was gravity.Course) (gravity.Brew, error) {
	thickness := unit.LitresPerKilogram(float64(b.Water) / float64(b.Grain))
	switch {
	case w.Grain > 0 && (w.Volume > 0 || w.Gravity > 0):
		return b, &gravity.Refusal{What: "grain follows from volume and gravity", Remedy: "wish for a grain alone, or for volume and gravity"}
	case w.Grain > 0:
		b.Grain, b.Water = w.Grain, unit.Litres(float64(thickness)*float64(w.Grain))
		return b, nil
	case w.Volume > 0 && w.Gravity > 0:
		return b.Wanted(gravity.Wort{Volume: w.Volume, Gravity: w.Gravity})
	case w.Volume > 0:
		return b.AtThickness(w.Volume, thickness)
	case w.Gravity > 0:
		return b.Wanted(gravity.Wort{Volume: was.Fermenter.Volume, Gravity: w.Gravity})
	}
	return b, &gravity.Refusal{What: "nothing is wished for", Remedy: "give a volume, a gravity or a mass of grain"}
}

// measured rounds to what a person measures out: so many parts of a unit, and
// ten times as many below small.
func measured[T ~float64](v, small T, parts float64) T {
	if v < small {
		parts *= 10
	}
	return T(math.Round(float64(v)*parts) / parts)
}

// compare says what stays and what changes.
func (s *Scaled) compare(before, after gravity.Brew, was, is gravity.Course) {
	s.tell("%.1f L of water instead of %.1f L, and %s of grain instead of %s: %.1f L go into the fermenter instead of %.1f L.",
		after.Water, before.Water, unit.FormatKilograms(after.Grain), unit.FormatKilograms(before.Grain), is.Fermenter.Volume, was.Fermenter.Volume)
	thick, thicker := float64(before.Water)/float64(before.Grain), float64(after.Water)/float64(after.Grain)
	if math.Abs(thick-thicker) < 0.05 {
		s.tell("The mash keeps its %.1f L/kg.", thicker)
	} else {
		s.tell("The mash changes from %.1f to %.1f L/kg, and its enzymes with it.", thick, thicker)
	}
	if d := is.Original.Gravity - was.Original.Gravity; d > -0.0005 && d < 0.0005 {
		s.tell("The original gravity stays at %s.", strength(is.Original.Gravity))
	} else {
		s.tell("The original gravity is %s instead of %s.", strength(is.Original.Gravity), strength(was.Original.Gravity))
	}
}

func (s *Scaled) tell(format string, args ...any) {
	s.Changes = append(s.Changes, fmt.Sprintf(format, args...))
}

// scaleBoil keeps the share of the wort that the boil takes in an hour. Where
// the profile names no rate the default vigour does so by itself.
func (s *Scaled) scaleBoil(boil int, share unit.Ratio, is gravity.Course) {
	if boil < 0 || s.Profile.Steps[boil].BoilOff == 0 {
		return
	}
	rate := measured(float64(share)*float64(is.PreBoil.Volume), 1, 100) // L/h
	if math.Abs(rate-perHour(s.Profile.Steps[boil].BoilOff)) < 0.005 {
		return
	}
	s.tell("boil_off is %.2f L/h instead of %.2f L/h, the same share of the wort.", rate, perHour(s.Profile.Steps[boil].BoilOff))
	s.Profile.Steps[boil].BoilOff = unit.LitresPerSecond(rate / 3600)
}

// amount is a quantity that an addition begins with.
var amount = regexp.MustCompile(`^([0-9]*\.?[0-9]+) ?(g|kg|oz|lb|mL|ml|L|l)\b`)

// scaleAdditions changes the amounts that stand in front of additions.
func (s *Scaled) scaleAdditions() {
	scaled := 0
	for i := range s.Profile.Steps {
		all := append([]profile.Addition(nil), s.Profile.Steps[i].Additions...)
		for j, a := range all {
			found := amount.FindStringSubmatch(a.Add)
			number := 0.0
			if found != nil {
				number, _ = strconv.ParseFloat(found[1], 64)
			}
			if number == 0 {
				s.tell("“%s” stays as it is: no amount stands in front.", a.Add)
				continue
			}
			all[j].Add = digits(number*s.Factor) + " " + found[2] + a.Add[len(found[0]):]
			scaled++
		}
		s.Profile.Steps[i].Additions = all
	}
	if scaled > 0 {
		s.tell("The amounts of the additions are multiplied by %.3f.", s.Factor)
	}
}

// digits writes a number with three digits, at most two behind the point.
func digits(v float64) string {
	decimals := 2
	if v >= 10 {
		decimals = 1
	}
	if v >= 100 {
		decimals = 0
	}
	return strconv.FormatFloat(rounded(v, decimals), 'f', -1, 64)
}
