package moments

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/controller"
	"mashward/profile"
	"mashward/profile/plan"
)

// PlanAhead is what a plan says of what is left of a day: every moment as planned, and
// later by as much as the batch is late; without a band, since a plan has none. What
// is due and not done yet is now. An idle decision is a day that has not begun.
func PlanAhead(d plan.Plan, now *controller.Decision, late time.Duration) ahead.Forecast {
	at := now.Clock - late // where the batch stands in the plan
	exactly := func(t time.Duration) ahead.Span { return ahead.Span{At: t, Early: t, Late: t} }
	shift := func(planned time.Duration) ahead.Span { return exactly(max(now.Clock, planned+late)) }
	f := ahead.Forecast{Made: now.Clock, Finish: shift(d.Finish)}
	if now.Mode.Ended() {
		f.Finish = exactly(now.Clock)
		return f
	}
	for _, p := range d.Persons {
		if done(&p, now, at) || p.Passes() && called(&d, &p, now) {
			continue
		}
		when := shift(p.At)
		if asksFor(now, &p) { // sooner than planned, as the batch is seen to stand
			when = exactly(now.Clock)
		}
		m := ahead.Moment{Span: when, Step: uint8(p.Step), Of: p.Of, What: p.What, Addition: p.Passes()}
		if p.Of == "break" || p.Of == "chill" { // he stays until the step has come to where it goes
			m.Until = shift(reaches(&d, p.Step)).At
		}
		f.Moments = append(f.Moments, m)
	}
	slices.SortStableFunc(f.Moments, func(a, b ahead.Moment) int { return cmp.Compare(a.At, b.At) })
	for _, s := range d.Steps {
		if now.Mode != controller.Idle && s.Index < int(now.Index) {
			continue
		}
		f.Steps = append(f.Steps, ahead.Step{Index: uint8(s.Index), Start: shift(s.Start), Reached: shift(s.Reached), End: shift(s.End)})
		f.Energy += s.Energy // of the present step all of it: a plan does not say when it goes in
	}
	if now.Stage == controller.Break || now.Stage == controller.Cool && now.Kind == profile.Chill {
		f.Stay = shift(reaches(&d, int(now.Index))).At
	}
	return f
}

// reaches is when a step of the plan has come to its target.
func reaches(d *plan.Plan, step int) time.Duration {
	for i := range d.Steps {
		if d.Steps[i].Index == step {
			return d.Steps[i].Reached
		}
	}
	return 0
}

// questions are the moments that each question of the controller stands for.
var questions = map[controller.Prompt]string{
	controller.AskPour: "pour", controller.AskGrainIn: "pour", controller.AskDidGrainGo: "pour",
	controller.AskLift: "lift", controller.AskBagClear: "lift", controller.AskDrained: "lift",
	controller.AskHereLidOff: "break", controller.AskScald: "chiller", controller.AskChiller: "chill", controller.AskChillerWater: "chill",
	controller.AskColdest: "tap",
}

// asksFor tells that the batch asks for this moment now.
func asksFor(now *controller.Decision, p *plan.Person) bool {
	of, asks := questions[now.Prompt]
	return asks && now.Mode == controller.Running && p.Of == of && (p.Step == int(now.Index) || of == "pour")
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
		return index > 0 && now.Stage != controller.Pour && !asksFor(now, p)
	case p.Step != index:
		return p.Step < index
	case p.Of == "lift", p.Of == "tap":
		return false // while their step lasts
	case p.Of == "chiller":
		return now.Hung
	case p.Of == "break":
		return now.Stage == controller.Break || now.Stage == controller.Boil
	case p.Of == "chill":
		return now.Stage == controller.Cool
	}
	return p.At < at && !p.Passes()
}

// called tells that an addition has been called out, or went in before. They are
// numbered over the day, as the steps come.
func called(d *plan.Plan, p *plan.Person, now *controller.Decision) bool {
	n, err := strconv.Atoi(strings.TrimPrefix(p.Of, "addition-"))
	for i := range d.Steps {
		if s := &d.Steps[i]; s.Index < p.Step {
			n += len(s.Additions)
		}
	}
	return err == nil && n > 0 && n <= profile.MaxAdditions && now.Called&(1<<(n-1)) != 0
}
