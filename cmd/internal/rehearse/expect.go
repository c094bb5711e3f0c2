package rehearse

import (
	"fmt"
	"math"
	"strings"

	"mashward/controller"
	"mashward/profile"
)

// Expectation is one thing that a profile expects, and what became of it. Of the
// figures those of its unit are there; none that was if it never came to it.
type Expectation struct {
	Promise string `json:"promise"`        // its key in the profile
	Step    int    `json:"step,omitempty"` // entry of the profile; left out: the day
	Kept    bool   `json:"kept"`
	Words   string `json:"words"` // what was promised
	Came    string `json:"came"`  // what came of it

	PromisedCelsius *float64 `json:"promised_celsius,omitempty"`
	PromisedSeconds *float64 `json:"promised_seconds,omitempty"`
	PromisedJoules  *float64 `json:"promised_joules,omitempty"`
	WasCelsius      *float64 `json:"was_celsius,omitempty"`
	WasSeconds      *float64 `json:"was_seconds,omitempty"`
	WasJoules       *float64 `json:"was_joules,omitempty"`
}

// String is promise and outcome in one line.
func (e Expectation) String() string { return e.Words + ": " + e.Came }

// Kept tells whether the batch was complete and all that was promised was kept.
func (r Result) Kept() bool {
	return r.complete() && len(r.Broken()) == 0
}

func (r Result) complete() bool { return r.Outcome == controller.Complete.String() }

// Broken are the promises that were not kept.
func (r Result) Broken() []Expectation {
	var all []Expectation
	for _, e := range r.Expectations {
		if !e.Kept {
			all = append(all, e)
		}
	}
	return all
}

// slack forgives the last bits of a figure: ticks are a second, and a watt-second
// is no promise.
const slack = 1e-6

// fate is what became of a promise.
type fate struct {
	was  float64 // in the unit of the promise
	has  bool    // it came to it
	over bool    // what was judged came to its end
	came string
}

// expectations judges what the profile promised by the truth.
func (w *Witness) expectations(out *Result) {
	for _, e := range w.Profile.Expect {
		f := w.fate(e, out)
		told := Expectation{Promise: e.Promise.String(), Step: e.Step, Words: e.Words(w.Profile), Came: f.came}
		bound, promised, was := 0.0, &told.PromisedSeconds, &told.WasSeconds
		switch e.Promise {
		case profile.NeverAbove, profile.StrikeAtMost:
			bound, promised, was = float64(e.Temperature), &told.PromisedCelsius, &told.WasCelsius
		case profile.EnergyAtMost:
			bound, promised, was = float64(e.Energy), &told.PromisedJoules, &told.WasJoules
		case profile.ReachedWithin, profile.CountedAtLeast, profile.DoneWithin:
			bound = e.Time.Seconds()
		}
		*promised = &bound
		if f.has {
			*was = &f.was
		}
		within := f.was <= bound+slack
		if e.Promise == profile.CountedAtLeast {
			within = f.was >= bound-slack
		}
		told.Kept = f.has && f.over && within
		out.Expectations = append(out.Expectations, told)
	}
}

// fate is what became of one promise.
func (w *Witness) fate(e profile.Expectation, out *Result) fate {
	complete := out.complete()
	switch e.Promise {
	case profile.NeverAbove, profile.StrikeAtMost: // the strike water is step 0
		return w.judge.highest(e.Step, out.Steps)
	case profile.ReachedWithin:
		return w.judge.arrival(e.Step, out.Steps)
	case profile.CountedAtLeast:
		return w.judge.counted(e.Step, out.Steps)
	case profile.DoneWithin:
		return fate{out.Duration, true, complete, ended(complete, "took ", "it was not complete after ") + hours(out.Duration)}
	case profile.EnergyAtMost:
		return fate{out.Energy, true, complete, ended(complete, "", "it was not complete with ") + kilowattHours(out.Energy)}
	}
	return fate{}
}

const neverBegun = "it was never begun"

// ended chooses between two ways to say it.
func ended(complete bool, yes, no string) string {
	if complete {
		return yes
	}
	return no
}

// of is a step as it went, by its index; nil if it was never begun.
func (j *judge) of(index int, steps []Step) (*Step, *course) {
	for i := range steps {
		if steps[i].Index == index {
			return &steps[i], &j.steps[i]
		}
	}
	return nil, nil
}

// highest is the true mash, less the offset that no controller can know, from the
// start of a step to its end.
func (j *judge) highest(index int, steps []Step) fate {
	s, c := j.of(index, steps)
	if s == nil {
		return fate{came: neverBegun}
	}
	top, offset := math.Inf(-1), 0.0
	if s.Offset != nil {
		offset = *s.Offset
	}
	for t := c.start; t <= c.end; t++ {
		top = max(top, j.at(t)-offset)
	}
	return fate{top, true, c.ended, ended(c.ended, "", "it did not come to its end, ") + fmt.Sprintf("highest %.2f °C", top)}
}

// counted is what the clock of a step came to.
func (j *judge) counted(index int, steps []Step) fate {
	s, c := j.of(index, steps)
	switch {
	case s == nil:
		return fate{came: neverBegun}
	case !c.ended:
		return fate{came: "it did not come to its end"}
	}
	return fate{s.Earned, true, true, clock(s.Earned) + " counted"}
}

// arrival is when a step was at its target, since the grain was in (without grain:
// since arming), whatever the probe reads wrong for good.
func (j *judge) arrival(index int, steps []Step) fate {
	s, _ := j.of(index, steps)
	if s == nil || s.arrived == nil {
		return fate{came: "never reached"}
	}
	origin := 0.0
	for _, other := range steps {
		if other.kind == profile.MashIn {
			origin = other.Start
		}
	}
	after := s.Start + *s.arrived - origin
	return fate{after, true, true, "after " + clock(after)}
}

// writeExpectations says what was promised and what came of it.
func writeExpectations(b *strings.Builder, r Result) {
	if len(r.Expectations) == 0 {
		return
	}
	b.WriteString("\nPromised\n")
	for _, e := range r.Expectations {
		fmt.Fprintf(b, "  %-7s %s\n", ended(e.Kept, "kept", "BROKEN"), e)
	}
}
