package plan

import (
	"fmt"
	"time"

	"mashward/controller/unit"
	"mashward/profile"
)

// checkExpect says which expectations of the profile this plan already breaks.
// It forbids nothing: the figures are worked out, and a rehearsal judges.
func (d *day) checkExpect() {
	if Refused(d.plan.Problems) {
		return
	}
	for _, e := range d.profile.Expect {
		if what, remedy := d.broken(e); what != "" {
			d.plan.Problems = append(d.plan.Problems, Problem{What: what, Remedy: remedy, Step: e.Step, Line: e.Line})
		}
	}
}

// broken says how the plan breaks an expectation; "" if it does not.
func (d *day) broken(e profile.Expectation) (what, remedy string) {
	p := &d.plan
	expected := ", and " + e.Bound() + " is expected"
	switch e.Promise {
	case profile.NeverAbove:
		if s, ok := p.stepAt(e.Step); ok && s.From > e.Temperature {
			return fmt.Sprintf("%s begins at %.1f °C%s at most", d.profile.Entry(e.Step), s.From, expected),
				"let it cool in a step before, or expect more"
		}
	case profile.ReachedWithin:
		return d.late(e, expected)
	case profile.StrikeAtMost:
		if p.HasStrike && p.Strike.Temperature > e.Temperature {
			return fmt.Sprintf("the strike water has to be %.1f °C%s at most", p.Strike.Temperature, expected),
				"take more water or less grain, mash in cooler, or expect more"
		}
	case profile.DoneWithin:
		if p.Finish > e.Time {
			return fmt.Sprintf("the day takes %s%s at most", spell(p.Finish), expected), "make the rests shorter, take less water or a stronger element, or expect more"
		}
	case profile.EnergyAtMost:
		if p.Energy > e.Energy {
			return fmt.Sprintf("the day takes %s%s at most", unit.FormatJoules(p.Energy), expected), "take less water, keep the lid on, or expect more"
		}
	case profile.CountedAtLeast: // the plan counts every step in full
	}
	return "", ""
}

// late says that a step is reached after the time that is expected.
func (d *day) late(e profile.Expectation, expected string) (what, remedy string) {
	s, ok := d.plan.stepAt(e.Step)
	if !ok {
		return "", ""
	}
	if after := s.Reached - d.plan.origin(); after > e.Time {
		return fmt.Sprintf("%s is reached %s after %s%s at most", d.profile.Entry(e.Step), spell(after), d.profile.Origin(), expected),
			"make the rests before it shorter, take less water or a stronger element, or expect more"
	}
	return "", ""
}

// stepAt finds the step of an entry of the profile.
func (p *Plan) stepAt(entry int) (Step, bool) {
	for _, s := range p.Steps {
		if s.Index == entry {
			return s, true
		}
	}
	return Step{}, false
}

// origin is the moment that reached_within counts from: the grain is in.
func (p *Plan) origin() time.Duration {
	for _, s := range p.Steps {
		if s.Kind == profile.MashIn {
			return s.Start
		}
	}
	return 0
}
