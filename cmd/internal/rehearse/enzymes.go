package rehearse

import (
	"time"

	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/enzyme"
)

// glance is how finely the true mash is followed: its temperature is a straight
// line over less.
const glance = 5

// enzymes follows the true mash through the steps as they were judged, and puts
// down what each did.
func (j *judge) enzymes(out *Result) {
	m := &enzyme.Course{}
	at := 0 // second up to which the mash is followed
	for i := range j.steps {
		c, s := &j.steps[i], &out.Steps[i]
		switch s.kind {
		case profile.MashIn:
			if c.start < len(j.mash) { // else nobody saw the grain go in
				m.Begin(unit.Celsius(j.at(c.start)))
			}
			at = c.start
		case profile.Rest, profile.MashOut:
		case profile.Lift:
			j.lead(m, at, j.hoisted, s.target)
			m.End()
			continue
		case profile.Strike, profile.Boil, profile.Stand, profile.Chill:
			continue
		}
		if !m.Mashing() {
			continue
		}
		goal := s.target
		if s.Offset != nil {
			goal += *s.Offset
		}
		m.Rest(s.Index, unit.Celsius(goal), s.kind == profile.MashIn)
		j.lead(m, at, c.end, goal)
		m.Leave()
		at = c.end
	}
	m.End()
	out.mash, out.Enzymes = m, m.Report()
	for i := range out.Steps {
		out.Steps[i].Enzymes = m.Of(out.Steps[i].Index)
	}
}

// lead takes a mash from one second to another.
func (j *judge) lead(m *enzyme.Course, from, to int, target float64) {
	for at := from; at < to; {
		piece := min(glance, to-at)
		at += piece
		m.Step(time.Duration(piece)*time.Second, unit.Celsius(j.at(at)), unit.Celsius(target))
	}
}
