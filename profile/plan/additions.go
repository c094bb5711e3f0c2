package plan

import (
	"fmt"
	"strings"
	"time"

	"mashward/profile"
)

// ofStep is what goes in during a step: what is written with the mash-in for the
// strike water belongs to the strike.
func ofStep(s profile.Step) (own []profile.Addition) {
	for _, a := range s.Additions {
		if (a.When == profile.AtStrike) == (s.Kind == profile.Strike) {
			own = append(own, a)
		}
	}
	return own
}

// callAdditions asks for each addition; what goes in at the same instant stands on
// one line. Nothing waits for them.
func (d *day) callAdditions(s Step) {
	type call struct {
		at    time.Duration
		first int // its number among those of the step
		what  []string
		when  string
	}
	var calls []call
	for n, a := range s.Additions {
		at, when := goesIn(s, a)
		known := false
		for i := range calls {
			if calls[i].at == at && calls[i].when == when {
				calls[i].what, known = append(calls[i].what, a.Add), true
			}
		}
		if !known {
			calls = append(calls, call{at, n + 1, []string{a.Add}, when})
		}
	}
	for _, c := range calls {
		d.call(c.at, s.Index, fmt.Sprintf("addition-%d", c.first), fmt.Sprintf("Add %s: %s.", strings.Join(c.what, " and "), c.when))
		d.plan.Persons[len(d.plan.Persons)-1].addition = true
	}
}

// goesIn is when an addition goes in, and how that is said.
func goesIn(s Step, a profile.Addition) (time.Duration, string) {
	where := "the " + s.Kind.String()
	switch a.When {
	case profile.AtStrike:
		return s.Start, "into the strike water"
	case profile.AtOnce:
		if s.Kind == profile.Lift {
			return s.Start, "when the grain hangs clear"
		}
		return s.End, "when the wort is cold"
	case profile.ByClock:
		if a.At > 0 {
			return s.Reached + a.At, fmt.Sprintf("%s into %s", spell(a.At), where)
		}
		if s.Kind == profile.MashIn {
			return s.Reached, "when the grain is in"
		}
		return s.Reached, "as " + where + " begins"
	case profile.ByLeft:
	}
	at := max(s.Reached, s.End-a.Left)
	if a.Left == 0 && s.Kind == profile.Boil {
		return at, "at flame-out, the heat goes off by itself"
	}
	return at, fmt.Sprintf("%s left of %s", spell(a.Left), where)
}
