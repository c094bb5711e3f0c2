package controller_test

import (
	"math"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
)

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
	passed := time.Duration(0) // a clock that went back and on again has made less than the tick's length
	if w.before.Begun {
		passed = max(w.now-w.before.Last, 0)
	}
	switch {
	case again:
		return nil
	case d.Index != w.last.Index:
		return broken("step %d became %d without a word", w.last.Index, d.Index)
	case gained < 0:
		return broken("%v of earned time lost", -gained)
	case gained > 0 && d.Mode != controller.Running && d.Mode != controller.Complete:
		return broken("%v earned while %v", gained, d.Mode)
	case gained > passed && !jumped:
		return broken("%v earned in %v", gained, passed)
	case gained > 0 && passed > controller.GapLimit && !jumped:
		return broken("%v earned over a gap", gained)
	}
	return nil
}

// modePromise: a batch says why it does not run, and is armed only while it does.
func (w *wild) modePromise() error {
	to := w.d.Mode
	reason := to == controller.Paused || to == controller.Held || to == controller.Stopped || to == controller.Aborted || to == controller.Offered
	if reason != (w.d.Reason != controller.NoReason) {
		return broken("%v with reason %v", to, w.d.Reason)
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
	case w.retargeted() > w.core.Config.Steps[4].Target:
		return broken("a rest at %v, hotter than was armed", w.retargeted())
	case d.Dropped > 0:
		return broken("%d events lost", d.Dropped)
	}
	return nil
}

// retargeted is the hottest rest as it stands now, whatever was asked for.
func (w *wild) retargeted() unit.Celsius {
	hottest := unit.Celsius(0)
	for _, s := range w.s.Steps[:w.s.Count] {
		if s.Kind == profile.Rest || s.Kind == profile.MashOut {
			hottest = max(hottest, s.Target)
		}
	}
	return hottest
}
