package ahead

import (
	"errors"
	"fmt"
	"time"

	"mashward/cmd/internal/say"
	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/enzyme"
	"mashward/profile/heat"
)

// Instant is a running batch at one instant, for what is asked of it.
type Instant struct {
	Day   *Day
	State controller.State
	Trip  controller.Reason // what holds heat back until a person looks; NoReason if nothing does
	Mash  enzyme.State      // how far its enzymes have come; begun while the grain is in
	Limit unit.Celsius      // what the interlock was handed at arming for the mash; 0: not known
}

// Outlook is what would come of a wish. Nothing has been done.
type Outlook struct {
	Refused controller.Refusal // the controller would refuse it now; After is then nothing
	Before  Forecast
	After   Forecast
	Later   time.Duration // by how much the finish moves
	Risks   []Risk
	// The enzymes when the grain comes out, without and with the change; nil: not
	// known, or none is in and none will be.
	MashBefore, MashAfter *enzyme.Estimate
}

// Risk is what a change could cost.
type Risk struct {
	ID   string
	Text string
}

// What cannot be asked.
var (
	ErrNotRunning = errors.New("no batch is under way that could be changed")
	ErrNoForecast = errors.New("how this batch goes on cannot be foreseen: a target is out of reach by what it has shown")
	ErrNotAChange = errors.New("that is none of what can be tried: a longer or shorter step, another target, a skip, water that goes in")
)

// WhatIf tells what would come of a wish: Extend, Retarget, Skip or Added. The
// controller itself is asked, on a copy of its state, whether it would take it; the
// rest of the day is forecast from what it makes of it. The batch hears of nothing.
func (n *Instant) WhatIf(c controller.Command) (Outlook, error) {
	switch c.Wish {
	case controller.Extend, controller.Retarget, controller.Skip, controller.Added:
	default:
		return Outlook{}, ErrNotAChange
	}
	if m := n.State.Mode; m == controller.Idle || m.Ended() {
		return Outlook{}, ErrNotRunning
	}
	before := n.Day.through(&n.State)
	if before == nil {
		return Outlook{}, ErrNoForecast
	}
	core := controller.Core{Config: n.Day.Config}
	// In no time: the tick that would take it, with the reading there is.
	tick := controller.Tick{Now: n.State.Last, Reading: n.State.Filter.Last, Applied: n.State.Wished, Trip: n.Trip, Command: c}
	changed, d := core.Step(n.State, tick)
	out := Outlook{Before: before.out, MashBefore: n.enzymes(before)}
	for _, e := range d.Events[:d.Count] {
		if e.Kind == controller.Refused {
			out.Refused = controller.Refusal(e.Value)
			return out, nil
		}
	}
	if changed.Mode.Ended() { // the last step was skipped
		out.After = Forecast{Made: changed.Clock, Finish: exactly(changed.Clock)}
		out.Later = out.After.Finish.At - out.Before.Finish.At
		return out, nil
	}
	after := n.Day.through(&changed)
	if after == nil {
		return Outlook{}, ErrNoForecast
	}
	out.After, out.Later = after.out, after.out.Finish.At-before.out.Finish.At
	out.MashAfter = n.enzymes(after)
	out.Risks = n.risks(c, before, after)
	return out, nil
}

// enzymes follows those of the mash along the course that is foreseen.
func (n *Instant) enzymes(w *walk) *enzyme.Estimate {
	mash := n.Mash
	for _, l := range w.legs {
		switch l.kind {
		case profile.MashIn, profile.Rest, profile.MashOut:
		default:
			continue
		}
		if !mash.Begun {
			mash = enzyme.MashIn(l.to)
		}
		const pieces = time.Minute
		from, left := mash.At, time.Duration(l.long*float64(time.Second))
		for whole := left; left > 0; left -= pieces {
			done := float64(whole-max(0, left-pieces)) / float64(whole)
			mash = mash.After(min(pieces, left), from+(l.to-from)*unit.Celsius(done))
		}
	}
	if e, ok := mash.Estimate(); ok {
		return &e
	}
	return nil
}

// risks are what the change could cost, beside what stood before it.
func (n *Instant) risks(c controller.Command, before, after *walk) []Risk {
	var all []Risk
	risk := func(when bool, id, text string, with ...any) {
		if when {
			all = append(all, Risk{id, fmt.Sprintf(text, with...)})
		}
	}
	hottest := hottestOf(after)
	risk(n.Limit > 0 && hottest > n.Limit.Plus(-closeTo), "limit",
		"It brings the mash to %.1f °C, %.1f °C below the temperature at which heat is cut for good.", hottest, float64(n.Limit-hottest))
	covered := max(n.Day.Config.CoveredAt, n.Day.Config.ProbeAt)
	risk(after.lowest > 0 && after.lowest < covered+controller.LevelWarning && after.lowest < before.lowest-0.05, "level",
		"At the end of the boil some %.1f L are left; the element is bare below %.1f L, and heat ends a litre above that.", after.lowest, covered)
	if c.Wish == controller.Added {
		all = append(all, n.poured(c, after)...)
	}
	for _, id := range missed(before, after) {
		risk(true, "missed", "%s", id)
	}
	last := after.out.Finish.Late
	risk(last > controller.ArmedFor && before.out.Finish.Late <= controller.ArmedFor, "arming",
		"One arming is good for %s: the day may be longer than that.", say.Length(controller.ArmedFor))
	return all
}

// closeTo is how near to the limit is worth a word: an overshoot is half of it at most.
const closeTo unit.Kelvin = 3

// hottestOf is the hottest target of what is left of the mash.
func hottestOf(w *walk) unit.Celsius {
	hottest := unit.Celsius(0)
	for _, l := range w.legs {
		if l.kind != profile.Strike {
			hottest = max(hottest, l.target)
		}
	}
	return hottest
}

// poured is what water that goes in does at once.
func (n *Instant) poured(c controller.Command, after *walk) (all []Risk) {
	s, cfg := &n.State, &n.Day.Config
	mean := after.temp0
	if drop := s.Law.Target.Minus(mean); drop > cfg.Steps[s.Index].Floor && s.Stage == controller.Count {
		all = append(all, Risk{"cold", fmt.Sprintf("It brings the mash to %.1f °C: the clock of the rest stands until that is made up.", mean)})
	}
	filled := cfg.Water + s.Deeds.Added
	if s.GrainIn && !s.Lifted {
		filled += cfg.Displaced
	}
	if s.Volume > 0 {
		filled = s.Volume + s.Deeds.Added
	}
	filled = heat.HotVolume(filled+heat.ColdFrom(c.Volume, c.At), max(mean, c.At))
	if cfg.Capacity > 0 && filled > 0.95*cfg.Capacity {
		all = append(all, Risk{"brim", fmt.Sprintf("The kettle would hold some %.1f L of its %.1f L, hot.", filled, cfg.Capacity)})
	}
	return all
}

// missed are the additions that would not be called any more.
func missed(before, after *walk) (all []string) {
	still := map[string]bool{}
	for _, m := range after.out.Moments {
		still[m.ID()] = true
	}
	for _, m := range before.out.Moments {
		if m.Addition && !still[m.ID()] {
			all = append(all, "It would not be called any more: "+m.What)
		}
	}
	return all
}
