package account

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"mashward/cmd/internal/say"
	"mashward/controller/unit"
	"mashward/profile"
)

// changes are what differed between two batches beside what came of it.
func changes(a, b *Account) []Change {
	var d difference
	d.subject = "profile"
	d.profile(&a.Day, &b.Day)
	if a.Day.HasProfile != b.Day.HasProfile {
		d.words("known", yes(a.Day.HasProfile), yes(b.Day.HasProfile))
	}
	d.subject = "kettle"
	d.kettle(&a.Kettle, &b.Kettle)
	d.subject = "tuning"
	d.tuning(a.Kettle.Tuning, b.Kettle.Tuning)
	d.subject = "program"
	d.words("version", a.Program, b.Program)
	d.words("kettle", simulated(a.Simulated), simulated(b.Simulated))
	d.subject = "surroundings"
	d.number("room, as declared", "°C", a.Kettle.Room, b.Kettle.Room)
	d.number("tap water, as declared", "°C", a.Kettle.Tap, b.Kettle.Tap)
	if a.Filled != nil && b.Filled != nil && math.Abs(*a.Filled-*b.Filled) >= 0.5 {
		d.number("water as filled, first reading", "°C", *a.Filled, *b.Filled)
	}
	d.subject = "person"
	d.waits(a.Waits, b.Waits)
	d.words("told", saids(a.Told), saids(b.Told))
	d.subject = "heat"
	d.troubles(&a.Troubles, &b.Troubles)
	return append([]Change{}, d.all...)
}

func simulated(yes bool) string {
	if yes {
		return "simulated"
	}
	return "real"
}

func yes(is bool) string {
	if is {
		return "yes"
	}
	return "no"
}

// difference gathers changes.
type difference struct {
	subject string
	all     []Change
}

func (d *difference) words(what, a, b string) {
	if a != b {
		d.all = append(d.all, Change{d.subject, what, a, b})
	}
}

func (d *difference) number(what, word string, a, b float64) {
	d.words(what, plain(a, word), plain(b, word))
}

// known is a figure, or "" where 0 stands for one that is not.
func known(x float64, word string) string {
	if x == 0 {
		return ""
	}
	return plain(x, word)
}

// plain is a figure with as many digits as say something.
func plain(x float64, word string) string {
	text := strings.TrimRight(strings.TrimRight(fmt.Sprintf("%.3f", x), "0"), ".")
	if math.Abs(x) >= 100 {
		text = fmt.Sprintf("%.0f", x)
	}
	return strings.TrimSpace(text + " " + word)
}

func (d *difference) profile(a, b *Day) {
	if !a.HasProfile || !b.HasProfile {
		return
	}
	p, q := &a.Profile, &b.Profile
	d.words("name", p.Name, q.Name)
	d.words("use", p.Use.String(), q.Use.String())
	d.number("water", "L", float64(p.Water), float64(q.Water))
	d.number("grain.mass", "kg", float64(p.Grain.Mass), float64(q.Grain.Mass))
	d.number("grain.temperature", "°C", float64(p.Grain.Temperature), float64(q.Grain.Temperature))
	d.share("grain.moisture", p.Grain.Moisture, q.Grain.Moisture)
	d.number("grain.slaking", "kJ/kg", float64(p.Grain.Slaking)/1000, float64(q.Grain.Slaking)/1000)
	d.share("grain.extract", p.Grain.Extract, q.Grain.Extract)
	d.share("grain.conversion", p.Grain.Conversion, q.Grain.Conversion)
	d.share("trub", p.Trub, q.Trub)
	for _, pair := range align(stepsOf(p), stepsOf(q)) {
		d.step(pair[0], pair[1], p, q)
	}
}

func (d *difference) share(what string, a, b unit.Ratio) {
	d.number(what, "%", 100*float64(a), 100*float64(b))
}

// stepsOf are the steps of a profile as far as they are aligned by.
func stepsOf(p *profile.Profile) []Step {
	var out []Step
	for i, s := range p.Steps {
		step := Step{Index: i + 1, Kind: s.Kind.String(), Name: s.Name}
		if s.Kind != profile.Lift && s.Kind != profile.Boil {
			step.Target = figure(float64(s.Target))
		}
		out = append(out, step)
	}
	return out
}

// step compares two steps field by field, or says that there is only one.
func (d *difference) step(a, b *Step, p, q *profile.Profile) {
	switch {
	case a == nil:
		d.words(fmt.Sprintf("step %d of B", b.Index), "", b.Title())
		return
	case b == nil:
		d.words(fmt.Sprintf("step %d of A", a.Index), a.Title(), "")
		return
	}
	x, y := &p.Steps[a.Index-1], &q.Steps[b.Index-1]
	where := fmt.Sprintf("step %d, %s: ", a.Index, a.Kind)
	d.words(where+"name", x.Name, y.Name)
	d.number(where+"temperature", "°C", float64(x.Target), float64(y.Target))
	d.words(where+"for", unit.FormatDuration(x.For), unit.FormatDuration(y.For))
	d.number(where+"ramp", "K/min", 60*float64(x.Ramp), 60*float64(y.Ramp))
	d.number(where+"floor", "K", float64(x.Floor), float64(y.Floor))
	d.number(where+"boil_off", "L/h", 3600*float64(x.BoilOff), 3600*float64(y.BoilOff))
	d.words(where+"additions", additions(x.Additions), additions(y.Additions))
}

func additions(all []profile.Addition) string {
	var out []string
	for _, a := range all {
		when := ""
		switch a.When {
		case profile.ByLeft:
			when = " with " + unit.FormatDuration(a.Left) + " left"
		case profile.ByClock:
			when = " after " + unit.FormatDuration(a.At)
		case profile.AtStrike:
			when = " into the strike water"
		case profile.AtOnce:
		}
		out = append(out, a.Add+when)
	}
	return strings.Join(out, "; ")
}

func (d *difference) kettle(a, b *Kettle) {
	d.number("power counted with", "W", a.Power, b.Power)
	d.number("loss counted with", "W/K", a.Loss, b.Loss)
	d.number("vessel", "J/K", a.Vessel, b.Vessel)
	d.words("capacity", known(a.Capacity, "L"), known(b.Capacity, "L"))
	d.number("element covered at", "L", a.Covered, b.Covered)
	d.words("relay", a.Relay, b.Relay)
	d.words("probe", a.Probe, b.Probe)
	d.words("pump", yes(a.Pump), yes(b.Pump))
	d.number("water boils at", "°C", a.Boiling, b.Boiling)
}

func (d *difference) tuning(a, b *Tuning) {
	if a == nil || b == nil {
		is := func(t *Tuning) string {
			if t == nil {
				return "untuned"
			}
			return "tuned"
		}
		d.words("kettle", is(a), is(b))
		return
	}
	d.number("power", "W", a.Power, b.Power)
	d.number("loss", "W/K", a.Loss, b.Loss)
	d.number("heats at once", "J/K", a.Heated, b.Heated)
	d.number("behind the circulation", "J/K", a.Mash, b.Mash)
	d.number("exchange", "W/K", a.Exchange, b.Exchange)
	d.number("lag of the element", "s", a.Element, b.Element)
	d.number("lag of the probe", "s", a.Probe, b.Probe)
	d.number("delay", "s", a.Delay, b.Delay)
	d.number("noise", "K", a.Noise, b.Noise)
}

// worthWait is by how much a wait has to differ to be told.
const worthWait = 10.0 // s

// waits compares how long a person took, question by question.
func (d *difference) waits(a, b []Wait) {
	sum := func(all []Wait, prompt string) (s float64, words string) {
		for _, w := range all {
			if w.Prompt == prompt {
				s += w.Seconds
				words = length(s)
			}
		}
		return s, words
	}
	var prompts []string
	for _, w := range slices.Concat(a, b) {
		if !slices.Contains(prompts, w.Prompt) {
			prompts = append(prompts, w.Prompt)
		}
	}
	for _, p := range prompts {
		x, before := sum(a, p)
		y, after := sum(b, p)
		if math.Abs(x-y) >= worthWait {
			d.words("waited for "+p, before, after)
		}
	}
}

func saids(all []Said) string {
	var out []string
	for _, s := range all {
		out = append(out, s.Text+" at "+say.Clock(time.Duration(s.At*float64(time.Second))))
	}
	return strings.Join(out, "; ")
}

// troubles compares what took heat away, rule by rule, and the alarms.
func (d *difference) troubles(a, b *Troubles) {
	type count struct {
		times   int
		seconds float64
	}
	gather := func(t *Troubles) map[string]count {
		out := map[string]count{}
		add := func(name string, from float64, until *float64) {
			c := out[name]
			c.times++
			if until != nil {
				c.seconds += *until - from
			}
			out[name] = c
		}
		for _, x := range t.Trips {
			add("trip: "+x.ID, x.At, nil)
		}
		for _, x := range t.Cuts {
			add("cut: "+x.ID, x.From, x.Until)
		}
		for _, x := range t.Alarms {
			add("alarm: "+x.ID, x.Raised, x.Cleared)
		}
		return out
	}
	words := func(c count) string {
		switch {
		case c.times == 0:
			return ""
		case c.seconds == 0:
			return say.Times(c.times)
		}
		return say.Times(c.times) + ", " + length(c.seconds) + " in all"
	}
	x, y := gather(a), gather(b)
	var names []string
	for _, m := range []map[string]count{x, y} {
		for name := range m {
			if !slices.Contains(names, name) {
				names = append(names, name)
			}
		}
	}
	slices.SortFunc(names, cmp.Compare[string])
	for _, name := range names {
		d.words(name, words(x[name]), words(y[name]))
	}
}
