package picture

import (
	"math"
	"time"

	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/plan"
)

// LegsOf is the plan as legs.
func LegsOf(p plan.Plan) []Leg {
	legs := make([]Leg, 0, len(p.Steps))
	for _, s := range p.Steps {
		l := Leg{
			Index: s.Index, Kind: s.Kind.String(), Title: Title(s.Kind, s.Name), Start: s.Start, Reached: s.Reached, End: s.End,
			From: float64(s.From), Target: math.NaN(), Ends: float64(s.Ends),
		}
		if s.HasTarget {
			l.Target = float64(s.Target)
		}
		legs = append(legs, bent(l, s, p))
	}
	return legs
}

// Title names a step by its kind and the brewer's own name for it.
func Title(k profile.Kind, name string) string {
	title := k.String()
	if k == profile.Stand {
		title = "hop stand"
	}
	if name != "" {
		title += ", " + name
	}
	return title
}

// NeededOf is when the plan needs somebody.
func NeededOf(p plan.Plan) []Mark {
	marks := make([]Mark, 0, len(p.Persons))
	for _, who := range p.Persons {
		marks = append(marks, Mark{At: who.At, Text: who.What, Kind: Person})
	}
	return marks
}

// bent gives a leg's way its shape. Heating is close to straight, except that
// a boil goes gently at last; cooling falls towards what cools it.
func bent(l Leg, s plan.Step, p plan.Plan) Leg {
	const breakBelow = 3 // °C under the boiling point: where the gentle way begins
	switch {
	case s.Kind == profile.Boil && s.Gentle > 0 && l.From < l.Ends-breakBelow:
		l.Bends = []Bend{{s.Reached - s.Gentle, l.Ends - breakBelow}}
	case s.Kind == profile.Chill:
		l.Bends = fall(l, p.Kettle.Tap)
	case l.Ends < l.From:
		l.Bends = fall(l, p.Kettle.Room)
	}
	return l
}

// fall is the exponential way down towards a colder place, passing through the
// leg's two ends.
func fall(l Leg, towards unit.Celsius) []Bend {
	const parts = 24
	c := float64(towards)
	way := l.Reached - l.Start
	if way <= 0 || l.Ends <= c || l.From <= l.Ends {
		return nil
	}
	left := (l.Ends - c) / (l.From - c)
	bends := make([]Bend, 0, parts)
	for i := 1; i < parts; i++ {
		share := float64(i) / parts
		bends = append(bends, Bend{l.Start + time.Duration(share*float64(way)), c + (l.From-c)*math.Pow(left, share)})
	}
	return bends
}
