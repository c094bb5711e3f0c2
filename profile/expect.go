package profile

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"mashward/controller/unit"
	"mashward/profile/strict"
)

// Promise is what a profile may expect of its day. The zero value is none.
type Promise uint8

// The promises. The first three are about one step, the others about the day.
const (
	// NeverAbove bounds the true mash from the step's start to its end.
	NeverAbove Promise = iota + 1
	// ReachedWithin bounds the time from the grain's going in (without grain: from
	// arming) to the step's target.
	ReachedWithin
	// CountedAtLeast is what the clock of the step has to count.
	CountedAtLeast
	// StrikeAtMost bounds the true strike water until the grain goes in.
	StrikeAtMost
	// DoneWithin bounds the whole day, from arming.
	DoneWithin
	// EnergyAtMost bounds what the element puts in.
	EnergyAtMost
)

var promiseWords = [...]string{
	NeverAbove: "never_above", ReachedWithin: "reached_within", CountedAtLeast: "counted_at_least",
	StrikeAtMost: "strike_at_most", DoneWithin: "done_within", EnergyAtMost: "energy_at_most",
}

// String is the key in files.
func (p Promise) String() string {
	if int(p) < len(promiseWords) {
		return promiseWords[p]
	}
	return ""
}

// OfStep tells whether it is about one step.
func (p Promise) OfStep() bool { return p >= NeverAbove && p <= CountedAtLeast }

// Expectation is one thing that a day has to keep. Of the bounds the one that
// its promise speaks of is set.
type Expectation struct {
	Promise     Promise
	Step        int           // entry of the profile, from 1; 0: the day
	Temperature unit.Celsius  // NeverAbove, StrikeAtMost
	Time        time.Duration // ReachedWithin, CountedAtLeast, DoneWithin
	Energy      unit.Joules   // EnergyAtMost
	Line        int           // where it stands in the file
}

// Bound is the promised figure as a person writes it.
func (e Expectation) Bound() string {
	switch e.Promise {
	case NeverAbove, StrikeAtMost:
		// To the hundredth: two promises that differ by less are one.
		return strconv.FormatFloat(math.Round(float64(e.Temperature)*100)/100, 'f', -1, 64) + " °C"
	case EnergyAtMost:
		return unit.FormatJoules(e.Energy)
	case ReachedWithin, CountedAtLeast, DoneWithin:
		return unit.FormatDuration(e.Time)
	}
	return ""
}

// Words are the expectation as a sentence without its end; p is the profile it
// stands in.
func (e Expectation) Words(p Profile) string {
	switch e.Promise {
	case NeverAbove:
		return "never above " + e.Bound() + " in " + p.Entry(e.Step)
	case ReachedWithin:
		return p.Entry(e.Step) + " reached within " + e.Bound() + " of " + p.Origin()
	case CountedAtLeast:
		return "at least " + e.Bound() + " counted in " + p.Entry(e.Step)
	case StrikeAtMost:
		return "strike water at most " + e.Bound()
	case DoneWithin:
		return "done within " + e.Bound()
	case EnergyAtMost:
		return "at most " + e.Bound()
	}
	return ""
}

// Entry names a step for a message: "step 2 (rest at 63 °C)".
func (p Profile) Entry(step int) string {
	if step < 1 || step > len(p.Steps) {
		return fmt.Sprintf("step %d", step)
	}
	s := p.Steps[step-1]
	switch s.Kind {
	case Lift, Boil:
		return fmt.Sprintf("step %d (%s)", step, s.Kind)
	case Chill:
		return fmt.Sprintf("step %d (%s to %s)", step, s.Kind, unit.FormatCelsius(s.Target))
	case Strike, MashIn, Rest, MashOut, Stand:
	}
	return fmt.Sprintf("step %d (%s at %s)", step, s.Kind, unit.FormatCelsius(s.Target))
}

// Origin is what reached_within counts from.
func (p Profile) Origin() string {
	if p.Grain.Mass > 0 {
		return "mash-in"
	}
	return "arming"
}

// MaxExpectations bounds the list, as the steps are bounded.
const MaxExpectations = 32

// readExpect reads what the profile promises.
func readExpect(m *strict.Map) []Expectation {
	var all []Expectation
	for i, item := range m.List("expect") {
		if i == MaxExpectations {
			item.Refuse("this is expectation 33 of a profile that may have 32", "keep those that matter")
			break
		}
		if e, ok := readExpectation(item); ok {
			all = append(all, e)
		}
	}
	return all
}

// readExpectation reads one entry; false where it was refused.
func readExpectation(item strict.Item) (Expectation, bool) {
	m := item.Map(append(strict.Keys{"step"}, promiseWords[1:]...))
	e := Expectation{Line: item.Line()}
	for p := NeverAbove; p <= EnergyAtMost; p++ {
		switch {
		case !m.Has(p.String()):
		case e.Promise != 0:
			m.Refuse(p.String(), e.Promise.String()+" and "+p.String()+" stand in one entry", "give each a line of its own, after a dash")
			return Expectation{}, false
		default:
			e.Promise = p
		}
	}
	if e.Promise == 0 {
		if !m.Odd() && !m.Missing() {
			m.Refuse("", "this entry does not say what is expected", "write one of "+strings.Join(promiseWords[1:], ", "))
		}
		return Expectation{}, false
	}
	key := e.Promise.String()
	switch e.Promise {
	case NeverAbove:
		e.Temperature = m.Celsius(key, strict.Between(0, hottest), strict.Example("64 °C"))
	case StrikeAtMost:
		e.Temperature = m.Celsius(key, strict.Between(0, hottest), strict.Example("72 °C"))
	case ReachedWithin:
		e.Time = m.Duration(key, strict.Between(time.Second, longestStep), strict.Example("40 min"))
	case CountedAtLeast:
		e.Time = m.Duration(key, strict.Between(time.Second, longestStep), strict.Example("35 min"))
	case DoneWithin:
		e.Time = m.Duration(key, strict.Between(time.Second, longestStep), strict.Example("5 h 30 min"))
	case EnergyAtMost:
		e.Energy = m.Joules(key, strict.Between(unit.KilowattHour/10, 200*unit.KilowattHour))
	}
	if e.Promise.OfStep() {
		e.Step = m.Count("step", strict.Required, strict.Between(1, MaxSteps), strict.Example("2"))
	} else if m.Has("step") {
		m.Refuse("step", key+" is about the whole day", "take step out")
	}
	return e, m.Sound(key) && (!e.Promise.OfStep() || m.Sound("step")) && m.Has("step") == e.Promise.OfStep()
}

// checkExpect refuses what no kettle could keep, and what is said twice.
func checkExpect(doc *strict.Doc, p Profile) {
	type same struct {
		promise Promise
		step    int
	}
	first := map[same]int{}
	for _, e := range p.Expect {
		if line, again := first[same{e.Promise, e.Step}]; again {
			doc.Refuse(e.Line, fmt.Sprintf("%s stands in line %d already%s", e.Promise, line, ofStep(e)), "keep one of them")
			continue
		}
		first[same{e.Promise, e.Step}] = e.Line
		if what, remedy := e.impossible(p); what != "" {
			doc.Refuse(e.Line, e.Promise.String()+": "+what, remedy)
		}
	}
}

func ofStep(e Expectation) string {
	if e.Step == 0 {
		return ""
	}
	return fmt.Sprintf(", for step %d", e.Step)
}

// impossible says why the profile itself forbids an expectation; "" if it does
// not. Steps that could not be read are passed over.
func (e Expectation) impossible(p Profile) (what, remedy string) {
	for _, s := range p.Steps {
		if s.Kind == Strike {
			return "", ""
		}
	}
	if len(p.Steps) == 0 {
		return "", ""
	}
	switch {
	case e.Promise == StrikeAtMost && p.Steps[0].Kind != MashIn:
		return "the profile has no mash-in, and so no strike water", "take it out"
	case e.Promise == DoneWithin && e.Time < rests(p.Steps):
		length := unit.FormatDuration(rests(p.Steps))
		return "the steps alone take " + length, "write more than " + length + ", or shorten them"
	case e.Promise.OfStep() && e.Step > len(p.Steps):
		return fmt.Sprintf("there is no step %d", e.Step), fmt.Sprintf("write a step from 1 to %d, as they stand in steps", len(p.Steps))
	case e.Promise.OfStep():
		return e.impossibleIn(p, p.Steps[e.Step-1])
	}
	return "", ""
}

// impossibleIn says why a step forbids what is expected of it.
func (e Expectation) impossibleIn(p Profile, s Step) (what, remedy string) {
	entry := p.Entry(e.Step)
	mash := s.Kind == MashIn || s.Kind == Rest || s.Kind == MashOut
	switch e.Promise {
	case NeverAbove:
		if !mash {
			return entry + " is no rest of a mash", "name the step of a mash-in, rest or mash-out"
		}
		if e.Temperature < s.Target {
			return e.Bound() + " is below what " + entry + " wants", "write at least " + unit.FormatCelsius(s.Target)
		}
	case ReachedWithin:
		if s.Kind == Lift {
			return entry + " has no temperature to be reached", "name another step"
		}
		if s.Kind == Chill { // it is over when the probe has read its target, not when all the wort is there
			return entry + " ends where it is reached", "write done_within, or name another step"
		}
		if before := rests(p.Steps[:e.Step-1]); e.Time < before {
			return "the steps before " + entry + " alone take " + unit.FormatDuration(before), "write more than that, or shorten them"
		}
	case CountedAtLeast:
		if s.For == 0 {
			return entry + " has no time to be counted", "name another step"
		}
		if e.Time > s.For {
			return entry + " is over after " + unit.FormatDuration(s.For), "write at most that, or lengthen it"
		}
	case StrikeAtMost, DoneWithin, EnergyAtMost:
	}
	return "", ""
}

// rests is what the steps take at their targets.
func rests(steps []Step) time.Duration {
	total := time.Duration(0)
	for _, s := range steps {
		total += s.For
	}
	return total
}
