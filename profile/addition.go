package profile

import (
	"time"

	"mashward/controller/unit"
	"mashward/profile/strict"
)

// The words that stand for a moment of their own.
const (
	wordStrike   = "strike"    // mash-in: into the strike water
	wordFlameOut = "flame-out" // boil: when the heat goes off
)

// clocked tells whether steps of this kind have a clock, by which additions can be
// told.
func (k Kind) clocked() bool { return k != Lift && k != Chill && k != Strike }

// readAdditions reads what is thrown in during a step.
func (r *reader) readAdditions(m *strict.Map, s Step) []Addition {
	var all []Addition
	for _, item := range m.List("additions") {
		r.additions++
		if r.additions == MaxAdditions+1 {
			item.Refuse("this is addition 33 of a profile that may have 32", "join what goes in at the same time")
		}
		if r.additions > MaxAdditions {
			return all
		}
		all = append(all, readAddition(item, s))
	}
	return all
}

// readAddition reads one of them: what, and when by what is left of the step, by
// what it has had, or by a word.
func readAddition(item strict.Item, s Step) Addition {
	one := Addition{Line: item.Line()}
	if !s.Kind.clocked() {
		one.When = AtOnce
		one.Add = thing(item.Map(strict.Keys{"add"}))
		return one
	}
	m := item.Map(strict.Keys{"left", "at", "add"})
	switch {
	case m.Has("left") && m.Has("at"):
		m.Refuse("at", "left and at in one addition", "keep one of them")
	case s.Kind == MashIn && m.Says("at", wordStrike):
		one.When = AtStrike
	case s.Kind == Boil && m.Says("at", wordFlameOut): // nothing is left then
	case m.Has("at"):
		one.When = ByClock
		one.At = m.Duration("at", strict.Between(0, longestStep), strict.Example("5 min"))
		refuseBeyond(m, "at", one.At, s)
	default:
		one.Left = m.Duration("left", strict.Required, strict.Between(0, longestStep), strict.Example("60 min"))
		refuseBeyond(m, "left", one.Left, s)
	}
	one.Add = thing(m)
	return one
}

func thing(m *strict.Map) string {
	return m.Text("add", strict.Required, strict.Example("28 g bittering hops"))
}

// refuseBeyond refuses a moment that the step does not have.
func refuseBeyond(m *strict.Map, key string, at time.Duration, s Step) {
	if !m.Sound(key) || s.For <= 0 || at <= s.For {
		return
	}
	length, kind := unit.FormatDuration(s.For), s.Kind.String()
	remedy := "write at most " + length + ", or lengthen the " + kind
	if s.Kind == Boil {
		remedy += "; what goes in as it heats up belongs to the lift"
	}
	m.Refuse(key, unit.FormatDuration(at)+" is more than the "+kind+" of "+length+" has", remedy)
}
