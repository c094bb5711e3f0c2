package late

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"mashward/controller/unit"
	"mashward/profile"
)

// Words is how late a batch is and why, in a sentence without its stop: "12 min
// late: 8 min for a person at the pour, 4 min for the power in the heat-up to
// 63 °C". The minutes add up. What is less than a twentieth of the largest is told in
// one. Targets are those of the plan.
func (a *Account) Words(p *Planned) string {
	total := minutes(a.Late)
	head := "on time"
	switch {
	case total > 0:
		head = fmt.Sprintf("%d min late", total)
	case total < 0:
		head = fmt.Sprintf("%d min early", -total)
	}
	var slow, quick []string
	rest := total
	say := func(m int, what string) {
		rest -= m
		switch {
		case m > 0:
			slow = append(slow, fmt.Sprintf("%d min for %s", m, what))
		case m < 0:
			quick = append(quick, fmt.Sprintf("%d min by %s", -m, what))
		}
	}
	least := 1
	for i, g := range a.groups() {
		m := minutes(g.Took)
		if i == 0 {
			least = max(1, (max(m, -m)+19)/20)
		}
		if m >= least || m <= -least {
			say(m, g.words(p))
		}
	}
	small := "a minute"
	if least > 1 {
		small = fmt.Sprintf("%d min", least)
	}
	say(rest, "what is less than "+small+" each")
	return head + listed(": ", slow) + listed("; gained: ", quick)
}

// group is parts that are told in one: those of a person by place, others by cause.
type group struct {
	Part
	most time.Duration // what the largest of them took
	more bool          // than one
}

func (a *Account) groups() []group {
	var out []group
next:
	for _, p := range a.Parts { // the largest first
		for i := range out {
			if g := &out[i]; g.Cause == p.Cause && (p.Cause != Person || g.Place == p.Place) {
				g.Took, g.more = g.Took+p.Took, true
				continue next
			}
		}
		out = append(out, group{p, p.Took, false})
	}
	slices.SortStableFunc(out, func(a, b group) int { return cmp.Compare(b.Took.Abs(), a.Took.Abs()) })
	return out
}

func (g *group) words(p *Planned) string {
	switch {
	case !g.more || minutes(g.Took) == minutes(g.most):
		return g.Part.Words(p)
	case g.Cause == Person && g.ofStep(p) != "":
		return g.Part.Words(p) + " and others"
	case g.Cause == Person:
		return g.Part.Words(p)
	}
	return g.Cause.Words() + ", most of it" + g.where(p)
}

func listed(before string, list []string) string {
	if len(list) == 0 {
		return ""
	}
	return before + strings.Join(list, ", ")
}

// minutes rounds to whole ones.
func minutes(d time.Duration) int { return int(d.Round(time.Minute) / time.Minute) }

var causeWords = [...]string{
	"a person", "the power (element, supply, or a loss nobody told of)", "the water", "the power or the water (no reading tells which)",
	"the open lid", "the pump", "what every kettle takes to settle", "the day as it was changed",
}

// Words is a cause for a reader.
func (c Cause) Words() string {
	if int(c) < len(causeWords) {
		return causeWords[c]
	}
	return "unknown"
}

// Words is what took the time, and where.
func (q Part) Words(p *Planned) string {
	if q.Place == Cooling {
		return "the chiller and its water" + q.where(p)
	}
	return q.Cause.Words() + q.where(p)
}

func (q Part) where(p *Planned) string {
	switch q.Place {
	case HeatUp:
		return " in the heat-up" + q.to(p)
	case Break:
		return " on the gentle way to the boil"
	case Rest:
		return " in the " + p.named(q.Step)
	case Start:
		return " that was filled in, colder or warmer than planned"
	case Landing:
		return " as the mash was made"
	case Cooling:
		return " on the way down" + q.to(p)
	case Cut:
		return " by heat that was cut for a while"
	case Trip:
		return " while heat was cut until somebody looked"
	case Outage:
		return " by what an outage let cool"
	case Deed:
		return " that was told of"
	case Pour, Hoist, Door, Chiller, Question, Pause, Stop, Skip, Longer, Again, Press:
		return " " + hands[q.Place] + before(" ", q.ofStep(p))
	}
	return ""
}

// hands is what a person did, or was waited for.
var hands = map[Place]string{
	Pour: "at the pour", Hoist: "at the lift", Door: "to stand by the break, lid off", Chiller: "at the chiller",
	Question: "to say whether grain went in", Pause: "who paused it", Stop: "who stopped it", Skip: "who skipped", Longer: "who made longer or shorter",
	Again: "who went back to", Press: "who pressed on in",
}

// ofStep names the step where the words of a deed need one.
func (q Part) ofStep(p *Planned) string {
	switch q.Place {
	case Longer, Again, Press:
		return "the " + p.named(q.Step)
	case Skip:
		return "to the " + p.named(q.Step)
	}
	return ""
}

func before(with, text string) string {
	if text == "" {
		return ""
	}
	return with + text
}

// to is where a heat-up goes.
func (q Part) to(p *Planned) string {
	s := p.Step(q.Step)
	switch {
	case s == nil:
		return ""
	case s.Kind == profile.Strike:
		return " of the strike water"
	case s.Kind == profile.Boil:
		return " to the boil"
	}
	return " to " + unit.FormatCelsius(s.Target)
}

// named is a step for a reader.
func (p *Planned) named(index uint8) string {
	s := p.Step(index)
	switch {
	case s == nil:
		return "step"
	case s.Kind == profile.Boil, s.Kind == profile.Strike, s.Kind == profile.Lift:
		return s.Kind.String()
	}
	return s.Kind.String() + " at " + unit.FormatCelsius(s.Target)
}
