package controller_test

import (
	"math"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
)

// cold stages never heat; dry ones never pump.
var (
	coldStage = map[controller.Stage]bool{
		controller.NoStage: true, controller.Pour: true, controller.Settle: true,
		controller.Mix: true, controller.Hoist: true, controller.Connect: true, controller.Cool: true,
	}
	dryStage = map[controller.Stage]bool{
		controller.NoStage: true, controller.Pour: true, controller.Settle: true,
		controller.Hoist: true,
	}
)

// heatPromise: heat only in a batch that runs or is paused, on a reading that
// is at most 5 s old, where the step allows it, under no trip.
func (w *wild) heatPromise() error {
	d, s, c := &w.d, &w.s, &w.core.Config
	if d.Wanted == unit.Off && d.Duty == 0 {
		return nil
	}
	switch {
	case !d.Mode.Heats():
		return broken("heat in a batch that is %v", d.Mode)
	case w.trip != controller.NoReason:
		return broken("heat under the trip %v", w.trip)
	case w.now-w.newest > 5*time.Second:
		return broken("heat on a reading of %v ago", w.now-w.newest)
	case coldStage[d.Stage]:
		return broken("heat in stage %v", d.Stage)
	case s.AskedGrain:
		return broken("heat while it is asked whether grain went in")
	case s.BedRest > 0:
		return broken("heat while the bed rests")
	case d.Wanted == unit.On && w.dt <= 0:
		return broken("heat in a tick of %v", w.dt)
	case w.before.Begun && w.now-w.before.Last > controller.GapLimit: // a clock that went back and on again has made none
		return broken("heat in the first tick after a gap of %v", w.dt)
	case c.Place == controller.Return && d.Pump == unit.Off:
		return broken("heat with a blind probe")
	case d.Stage == controller.Drain && d.Duty > controller.GentleDuty:
		return broken("duty %v while the bag drips", d.Duty)
	case d.Stage == controller.Drain && d.Target > min(95, c.Boiling-3):
		return broken("target %v while the bag drips", d.Target)
	}
	return nil
}

// pumpPromise: the pump runs only where the step allows it, and never against
// a person's word.
func (w *wild) pumpPromise() error {
	d, s, c := &w.d, &w.s, &w.core.Config
	if d.Pump == unit.Off {
		return nil
	}
	boil := d.Kind == profile.Boil || d.Stage == controller.Drain
	switch {
	case !c.HasPump:
		return broken("a pump that does not exist runs")
	case !d.Mode.Heats():
		return broken("the pump runs in a batch that is %v", d.Mode)
	case w.trip != controller.NoReason:
		return broken("the pump runs under a trip")
	case s.PumpBlocked, s.BedRest > 0, s.AskedGrain:
		return broken("the pump runs: blocked %v, bed rest %v, asked %v", s.PumpBlocked, s.BedRest, s.AskedGrain)
	case dryStage[d.Stage]:
		return broken("the pump runs in stage %v", d.Stage)
	case boil && !c.InBoil:
		return broken("the pump runs in the boil")
	case w.last.Pump == unit.Off && w.before.PumpIn == 0:
		return broken("the pump starts without a warning")
	case w.dt > controller.GapLimit: // its lease has run out meanwhile
		return broken("the pump starts after %v without a warning", w.dt)
	}
	return nil
}

// clockPromise: what is earned is never lost within a step, and never more
// than the time that passed.
func (w *wild) clockPromise() error {
	d := &w.d
	if d.Clock < w.last.Clock && d.Mode != controller.Idle {
		return broken("the clock of the batch goes back from %v to %v", w.last.Clock, d.Clock)
	}
	again, jumped := false, false
	for _, e := range d.Events[:d.Count] {
		switch e.Kind {
		case controller.StepStarted, controller.SkipUndone:
			again = true
		case controller.CountedBack:
			jumped = true
		}
	}
	jumped = jumped || w.accepted() && w.told.Command.Wish == controller.GoOn
	gained := d.Earned - w.last.Earned
	switch {
	case again:
		return nil
	case d.Index != w.last.Index:
		return broken("step %d became %d without a word", w.last.Index, d.Index)
	case gained < 0:
		return broken("%v of earned time lost", -gained)
	case gained > 0 && d.Mode != controller.Running && d.Mode != controller.Complete:
		return broken("%v earned while %v", gained, d.Mode)
	case gained > max(w.dt, 0) && !jumped:
		return broken("%v earned in %v", gained, w.dt)
	case gained > 0 && w.dt > controller.GapLimit && !jumped:
		return broken("%v earned over a gap", gained)
	}
	return nil
}

// ways are the changes of state that a batch may make.
var ways = map[[2]controller.Mode]bool{
	{controller.Running, controller.Offered}: true, {controller.Paused, controller.Offered}: true, {controller.Held, controller.Offered}: true,
	{controller.Offered, controller.Running}: true, {controller.Offered, controller.Stopped}: true, {controller.Offered, controller.Aborted}: true,
	{controller.Idle, controller.Running}: true, {controller.Running, controller.Paused}: true,
	{controller.Paused, controller.Running}: true, {controller.Running, controller.Held}: true,
	{controller.Paused, controller.Held}: true, {controller.Held, controller.Running}: true,
	{controller.Running, controller.Complete}: true, {controller.Running, controller.Stopped}: true,
	{controller.Paused, controller.Stopped}: true, {controller.Held, controller.Stopped}: true,
	{controller.Held, controller.Aborted}: true, {controller.Running, controller.Aborted}: true,
	// Held by a trip and ended in the same tick.
	{controller.Paused, controller.Aborted}: true,
	// A step of no length may end in the tick in which the batch goes on.
	{controller.Held, controller.Complete}: true, {controller.Paused, controller.Complete}: true,
}

// modePromise: a batch changes its state only in known ways, and says why.
func (w *wild) modePromise() error {
	from, to := w.last.Mode, w.d.Mode
	if from != to && !ways[[2]controller.Mode{from, to}] {
		return broken("from %v to %v", from, to)
	}
	reason := to == controller.Paused || to == controller.Held || to == controller.Stopped || to == controller.Aborted || to == controller.Offered
	if reason != (w.d.Reason != controller.NoReason) {
		return broken("%v with reason %v", to, w.d.Reason)
	}
	if w.trip != controller.NoReason && to.Heats() {
		return broken("%v under the trip %v", to, w.trip)
	}
	if w.d.Armed != to.Heats() {
		return broken("%v, and armed is %v", to, w.d.Armed)
	}
	return nil
}

// figurePromise: every figure is a number and in its range.
func (w *wild) figurePromise() error {
	d, same, sameState := &w.d, w.d, w.s
	if same != *d || sameState != w.s { // only what is not a number differs from itself
		return broken("something is not a number: %+v", w.s)
	}
	terms := d.Terms.Sum()
	switch {
	case !(d.Duty >= 0 && d.Duty <= 1):
		return broken("duty %v", d.Duty)
	case math.IsNaN(terms) || math.IsInf(terms, 0):
		return broken("terms %+v", d.Terms)
	case d.Index >= max(w.s.Count, 1):
		return broken("step %d of %d", d.Index, w.s.Count)
	case d.Left < 0 || d.Earned < 0 || w.s.Since < 0 || w.s.HereFor < 0 || w.s.BedRest < 0:
		return broken("a time below zero: left %v, earned %v", d.Left, d.Earned)
	case d.HasEstimate && !(d.Estimate > -20 && d.Estimate < 130):
		return broken("estimate %v", d.Estimate)
	case !(w.s.Law.Gain == 0 || w.s.Law.Gain >= 0.5 && w.s.Law.Gain <= 1.6):
		return broken("gain %v", w.s.Law.Gain)
	case d.Dropped > 0:
		return broken("%d events lost", d.Dropped)
	}
	return nil
}
