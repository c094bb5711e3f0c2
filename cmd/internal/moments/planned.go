package moments

import (
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/controller"
	"mashward/profile/plan"
)

// PlanAhead is what a plan says of what is left of a day: every moment as planned, and
// later by as much as the batch is late; without a band, since a plan has none. What
// is due and not done yet is now. An idle decision is a day that has not begun.
func PlanAhead(d plan.Plan, now *controller.Decision, late time.Duration) ahead.Forecast {
	at := now.Clock - late // where the batch stands in the plan
	shift := func(planned time.Duration) ahead.Span {
		t := max(now.Clock, planned+late)
		return ahead.Span{At: t, Early: t, Late: t}
	}
	f := ahead.Forecast{Made: now.Clock, Finish: shift(d.Finish)}
	if now.Mode.Ended() {
		f.Finish = ahead.Span{At: now.Clock, Early: now.Clock, Late: now.Clock}
		return f
	}
	for _, p := range d.Persons {
		if done(&p, now, at) {
			continue
		}
		f.Moments = append(f.Moments, ahead.Moment{
			Span: shift(p.At), Step: uint8(p.Step), Of: p.Of, What: p.What, Addition: p.Passes(),
		})
	}
	for _, s := range d.Steps {
		if now.Mode != controller.Idle && s.Index < int(now.Index) {
			continue
		}
		f.Steps = append(f.Steps, ahead.Step{Index: uint8(s.Index), Start: shift(s.Start), Reached: shift(s.Reached), End: shift(s.End)})
		f.Energy += s.Energy // of the present step all of it: a plan does not say when it goes in
	}
	return f
}

// done tells that a moment of the plan is over where the batch stands.
func done(p *plan.Person, now *controller.Decision, at time.Duration) bool {
	index := int(now.Index)
	switch {
	case now.Mode == controller.Idle:
		return false
	case p.Of == "fill":
		return true
	case p.Of == "end":
		return false
	case p.Of == "pour":
		return index > 0 && now.Stage != controller.Pour
	case p.Step != index:
		return p.Step < index
	case p.Of == "lift":
		return false
	case p.Of == "break":
		return now.Stage == controller.Break || now.Stage == controller.Boil
	case p.Of == "chill":
		return now.Stage == controller.Cool
	}
	return p.At < at
}
