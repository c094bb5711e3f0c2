package ahead

import (
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/record"
)

// Rhythm tells when it is time for a forecast: about once a minute, and at once when
// a person has spoken, a step or the state of the batch has changed, or heat was cut.
type Rhythm struct {
	begun bool
	last  time.Duration // since arming, of the last minute
	cut   interlock.Rule
	trip  interlock.Rule
	count int // ticks, for a clock that stands
}

// every is the longest time between two forecasts, in ticks or on the batch clock.
const every = time.Minute

// Due takes a frame. What comes at once does not shift the minutes.
func (r *Rhythm) Due(f *loop.Frame) bool {
	d := &f.Decision
	r.count++
	minute := !r.begun || d.Clock-r.last >= every || r.count >= int(every/time.Second)
	if minute {
		r.begun, r.last, r.count = true, d.Clock, 0
	}
	due := minute || f.Verdict.Cut != r.cut || f.Verdict.Trip != r.trip
	for _, e := range d.Events[:d.Count] {
		switch e.Kind {
		case controller.Accepted, controller.StepStarted, controller.StageChanged, controller.TargetReached, controller.ModeChanged,
			controller.ProposalSeen, controller.SkipUndone:
			due = true
		}
	}
	r.cut, r.trip = f.Verdict.Cut, f.Verdict.Trip
	return due
}

// Worth tells whether a forecast is worth to be kept beside the one that was kept
// last: one a minute, or one that says another finish by more than a minute.
func Worth(last, now *record.Forecast) bool {
	moved := now.Finish.At - last.Finish.At
	return now.Made-last.Made >= every-time.Second || now.Made < last.Made || moved > time.Minute || moved < -time.Minute
}

// Keeper forecasts a batch as it goes, in the tick: for rehearsals, where the next
// tick waits. It is a loop.Watcher.
type Keeper struct {
	Day Day
	// Keep is told each forecast that is worth it; nil: only the score is kept.
	Keep  func(record.Forecast)
	Score Score

	rhythm Rhythm
	last   record.Forecast
}

// Watch implements loop.Watcher.
func (k *Keeper) Watch(f *loop.Frame) {
	d := &f.Decision
	for _, e := range d.Events[:d.Count] {
		k.Score.Event(e, d.Clock, &k.Day.Config)
	}
	if d.Mode != controller.Running || !k.rhythm.Due(f) {
		return
	}
	fc, ok := k.Day.From(f.State)
	if !ok {
		return
	}
	said := fc.Said()
	if k.last != (record.Forecast{}) && !Worth(&k.last, &said) {
		return
	}
	k.last = said
	k.Score.Said(said)
	if k.Keep != nil {
		k.Keep(said)
	}
}

// Said is a forecast as it is recorded.
func (f *Forecast) Said() record.Forecast {
	out := record.Forecast{Made: f.Made.Round(time.Second), Finish: spanOf(f.Finish)}
	if m, ok := f.Next(); ok {
		out.Next, out.Step, out.Of = spanOf(m.Span), m.Step, m.Of
	}
	return out
}
