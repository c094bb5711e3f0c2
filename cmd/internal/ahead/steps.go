package ahead

import (
	"fmt"
	"math"
	"strings"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/heat"
)

// The times before the end of a boil at which hands are needed, as in the plan.
const (
	chillerIn = controller.ScaldChiller
	loopIn    = controller.ScaldLoop
)

func isAddition(of string) bool { return strings.HasPrefix(of, "addition-") }

// step goes through one; stage is where in it the batch is, NoStage for a step that
// has not begun.
func (w *walk) step(index uint8, stage controller.Stage) {
	w.begin(index)
	switch step := &w.s.Steps[index]; step.Kind {
	case profile.Strike:
		w.strike(step, stage)
	case profile.MashIn:
		w.mashIn(index, step, stage)
	case profile.Rest, profile.MashOut:
		w.rest(index, step, stage)
	case profile.Lift:
		w.lift(index, stage)
	case profile.Boil:
		w.boil(index, step, stage)
	case profile.Stand:
		w.stand(index, step, stage)
	case profile.Chill:
		w.chill(index, step, stage)
	}
	w.end()
}

// strike heats the water and lets it come to rest.
func (w *walk) strike(step *controller.Step, stage controller.Stage) {
	from := w.at
	had := time.Duration(0)
	if stage != controller.NoStage {
		had = w.s.InStep
	}
	w.additions(0, step, from, had)
	if stage != controller.Ready {
		mean, off := float64(strikeEven), float64(strikeEvenOff)
		if w.c.Model.Good() {
			mean, off = strikeTold, strikeToldOff
		}
		w.even(step, stage, mean, off, 90*time.Second)
	}
	w.leg(0, from, false)
	w.reached()
	w.need(0, "pour", w.at)
	w.wait(press, 0)
}

// even brings the kettle to the target of a step and waits until the reading and
// the balance say so too. least is what that takes at least from here, once the
// heat-up has ended.
func (w *walk) even(step *controller.Step, stage controller.Stage, mean, off float64, least time.Duration) {
	l := &w.s.Law
	to := step.Target.Plus(-controller.EntryBand)
	if step.Kind == profile.Strike {
		to = step.Target
	}
	begun := stage == controller.Heat || stage == controller.Count
	if w.temp > step.Target.Plus(controller.HotBand) {
		w.cool(step.Target.Plus(controller.EntryBand))
		return
	}
	heats := step.Target-w.temp > 0.05
	w.heatTo(to, 1, step.Ramp)
	if heats {
		w.temp = step.Target
	}
	if heats || begun {
		w.seesLate()
	}
	switch {
	case begun && (l.Way == controller.Coast || l.Way == controller.Holding) && l.Target == step.Target:
		left := max(mean-l.InWay.Seconds(), least.Seconds()/3)
		w.wait(left, min(off, left))
	case heats || begun:
		w.wait(mean, off)
	}
}

// seesLate is what a mash takes to show that it is at its target, until a model sees
// through the bed.
func (w *walk) seesLate() {
	if !w.in {
		return
	}
	first := !w.fitted && !w.s.Sight.Fitted
	w.fitted = true
	if w.c.Place == controller.Bed && first {
		w.wait(bedLag, bedLagOff)
	}
	if !w.c.Model.Good() {
		w.wait(untunedLag, untunedLagOff)
	}
}

// mashIn waits for the grain, the bed, and the rest in it.
func (w *walk) mashIn(index uint8, step *controller.Step, stage controller.Stage) {
	s := w.s
	since := 0.0 // s of the rest that have been counted, or will be
	switch stage {
	case controller.Count:
		w.count(index, step, stage)
		return
	case controller.Settle, controller.Mix:
		since = s.Since.Seconds()
	default:
		pour := w.day.Pour.Seconds()
		if stage == controller.Pour {
			pour = max(0, pour-s.InStage.Seconds())
			w.need(0, "pour", w.at)
		}
		w.wait(pour+press, pour/4)
		w.pour()
	}
	from := w.at
	if stage == controller.NoStage || stage == controller.Pour { // it begins when the grain is in
		w.out.Steps[len(w.out.Steps)-1].Start = w.at.span(w.now)
	}
	settled := w.c.Settle.Seconds()
	if w.c.HasPump && !s.PumpBlocked {
		settled += (controller.MixTime + controller.PumpWarning).Seconds()
	}
	if stage == controller.Mix {
		since = max(since, settled-(controller.MixTime+controller.PumpWarning-s.InStage).Seconds())
	}
	w.temp = step.Target
	if s.Law.Landed {
		w.temp = min(max(s.Law.Mean, step.Target-2), step.Target+2)
	}
	w.additions(index, step, w.at, time.Duration(since*float64(time.Second)))
	w.wait(max(0, settled-since), 3)
	w.heatTo(step.Target, 1, 0)
	w.wait(landing, landingOff)
	w.reached()
	w.hold(max(0, step.For.Seconds()-settled))
	w.leg(index, from, true)
}

// pour puts the grain in: another load, and a gain that may have been the water's.
func (w *walk) pour() {
	share := float64(w.load / (w.c.LoadMash + w.told()))
	w.load = w.c.LoadMash + w.told()
	byVolume := 1 / (share/w.gain + 1 - share)
	const usualVolume = 0.42 // as the controller counts with
	open := gainOpen * (w.gain - 1)
	w.gain = (1-usualVolume)*w.gain + usualVolume*byVolume
	w.off = math.Hypot(max(w.off, rateInMash), open)
	w.in = true
}

// told is the load of what a person has put in or taken out.
func (w *walk) told() unit.JoulesPerKelvin { return heat.WaterCapacity(w.s.Deeds.Added) }

// rest heats to a rest and stays there.
func (w *walk) rest(index uint8, step *controller.Step, stage controller.Stage) {
	if stage == controller.Count {
		w.count(index, step, stage)
		return
	}
	from := w.at
	w.even(step, stage, restEven, restEvenOff, 0)
	w.leg(index, from, false)
	w.reached()
	from = w.at
	left := step.For
	if stage != controller.NoStage { // it was there before, and has another target now
		left -= w.s.Earned
	}
	w.additions(index, step, w.at, step.For-left)
	w.hold(max(0, left.Seconds()))
	w.leg(index, from, true)
}

// count stays in a rest that has begun.
func (w *walk) count(index uint8, step *controller.Step, stage controller.Stage) {
	from := w.at
	w.fitted = w.fitted || w.in && index > 1 && w.s.Reached // its heat-up is behind, and fitted before the next
	if !w.s.Reached || w.s.Standing {
		w.even(step, stage, restEven, restEvenOff, 0)
		w.wait(5, 20)
		w.reached()
	} else {
		w.out.Steps[len(w.out.Steps)-1].Reached = exactly(w.now - w.s.Earned)
	}
	w.temp = step.Target
	w.additions(index, step, w.at, w.s.Earned)
	w.hold(max(0, (step.For - w.s.Earned).Seconds()))
	w.leg(index, from, true)
}

// additions are called out by the time that a step has had, or by what is left of it;
// its clock stands at earned at from.
func (w *walk) additions(index uint8, step *controller.Step, from instant, earned time.Duration) {
	for i := step.From; i < step.To; i++ {
		if w.s.Called[i] {
			continue
		}
		due := w.s.Additions[i] - earned
		if !w.c.FromStart[i] {
			due = step.For - w.s.Additions[i] - earned
		}
		due = max(0, due)
		w.need(index, fmt.Sprintf("addition-%d", i-step.From+1), from.after(due.Seconds(), 0))
	}
}

// lift takes the grain out: presses, and no more.
func (w *walk) lift(index uint8, stage controller.Stage) {
	w.need(index, "lift", w.at)
	w.additions(index, &w.s.Steps[index], w.at, 0)
	presses := map[controller.Stage]float64{controller.Hoist: 2, controller.Drain: 1}[stage]
	if presses == 0 {
		presses = 3
	}
	w.wait(presses*press, 2)
	if !w.s.Lifted {
		w.load = w.c.LoadWort + w.told()
		w.off = math.Hypot(max(w.off, rateInMash), rateInWort)
	}
	if w.s.Volume == 0 {
		w.wort = w.c.AfterLift + w.s.Deeds.Added
		w.off = math.Hypot(w.off, volumePlanned)
	}
	w.in = false
}
