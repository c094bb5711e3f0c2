package daemon

import (
	"cmp"
	"fmt"
	"math"
	"runtime/debug"
	"sync/atomic"
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/record"
	"mashward/profile/plan"
)

// forecaster works out beside the loop how the batch goes on. The tick leaves a copy
// of the state, waits for nothing, and takes up what has been worked out by then.
type forecaster struct {
	latest atomic.Pointer[foretold]
	failed atomic.Pointer[string] // what went wrong, until the loop has said it
	work   foresee

	// Owned by the loop.
	rhythm ahead.Rhythm
	jobs   chan *job
	said   bool // that it goes wrong

	// Owned by the worker.
	kept record.Forecast
	of   *Batch // kept is of this one

	missed atomic.Uint64 // mean distance of the finish of the last batch from its forecasts, s, as bits; 0: none
	score  ahead.Score   // of the batch that runs; the worker's
}

// foresee makes a forecast of a state; false where nothing can be said.
type foresee func(*ahead.Day, *controller.State) (ahead.Forecast, bool)

// foretold is a forecast of a batch.
type foretold struct {
	batch *Batch
	ahead.Forecast
}

// job is a state to forecast from.
type job struct {
	batch    *Batch
	day      *ahead.Day
	state    controller.State
	recorder *record.Recorder
	over     bool // the batch is complete: the score is counted
}

// begin sets the worker going. It ends with end.
func (w *forecaster) begin(work foresee) {
	w.jobs, w.work = make(chan *job, 1), work
	if work == nil {
		w.work = (*ahead.Day).From
	}
	go w.run(w.jobs)
}

func (w *forecaster) end() {
	if w.jobs != nil {
		close(w.jobs)
	}
}

// dayOf is what a forecast has to know of a batch.
func (d *Daemon) dayOf(b *Batch) *ahead.Day {
	day := &ahead.Day{Config: d.loop.Core.Config, Plan: b.Plan, Pour: plan.Pour}
	if d.o.Person != nil { // a simulated one pours at once
		day.Pour = 0
	}
	return day
}

// foresee has the worker look ahead when it is time to. A worker that is still busy
// with the state before gets this one instead of what waits for it.
func (d *Daemon) foresee(f *loop.Frame) {
	w := &d.ahead
	if why := w.failed.Swap(nil); why != nil && !w.said {
		w.said = true
		d.o.Log.Error("no forecast: it went wrong, and the batch goes on without", "error", *why)
		d.tell(Entry{At: f.Decision.Clock, Wall: d.o.Now(), Text: "How the day goes on cannot be forecast: that went wrong. The batch goes on as it is."})
	}
	mode := f.Decision.Mode
	if d.batch == nil || w.jobs == nil || !w.rhythm.Due(f) {
		return
	}
	next := &job{batch: d.batch, day: d.day, state: *f.State, recorder: d.batch.recorder, over: mode == controller.Complete}
	select {
	case <-w.jobs:
	default:
	}
	select {
	case w.jobs <- next:
	default: // the worker cannot have filled it; a forecast less does no harm
	}
}

// run is the worker's goroutine.
func (w *forecaster) run(jobs <-chan *job) {
	for j := range jobs {
		w.try(j)
	}
}

// try forecasts once. Whatever goes wrong in it stays in it.
func (w *forecaster) try(j *job) {
	defer func() {
		if p := recover(); p != nil {
			why := fmt.Sprintf("%v\n%s", p, debug.Stack())
			w.failed.Store(&why)
			w.latest.Store(nil)
		}
	}()
	if w.of != j.batch {
		w.of, w.kept, w.score = j.batch, record.Forecast{}, ahead.Score{}
	}
	if j.over {
		w.settle(j)
	}
	fc, ok := w.work(j.day, &j.state)
	if !ok {
		w.latest.Store(nil)
		return
	}
	w.latest.Store(&foretold{j.batch, fc})
	said := fc.Said()
	if j.state.Mode != controller.Running || w.kept != (record.Forecast{}) && !ahead.Worth(&w.kept, &said) {
		return
	}
	w.kept = said
	w.score.Said(said)
	if j.recorder != nil {
		j.recorder.Forecast(said)
	}
}

// settle counts how far the forecasts of a batch lay from its finish.
func (w *forecaster) settle(j *job) {
	if off, ok := w.score.Off(j.state.Clock); ok {
		w.missed.Store(math.Float64bits(off.Seconds()))
	}
}

// forecastOf is the newest forecast of the batch that runs; nil where there is none.
func (d *Daemon) forecastOf(mode controller.Mode) *ahead.Forecast {
	t := d.ahead.latest.Load()
	if t == nil || t.batch != d.batch || mode == controller.Idle || mode.Ended() {
		return nil
	}
	return &t.Forecast
}

// FinishForecast is when the batch that runs is thought to be done, by the clock on
// the wall; ok is false where nothing is forecast.
func (d *Daemon) FinishForecast() (early, at, late time.Time, ok bool) {
	s := d.Latest()
	if s.Forecast == nil {
		return early, at, late, false
	}
	pace := cmp.Or(d.pace(), 1)
	wall := func(at time.Duration) time.Time {
		return s.Wall.Add(time.Duration(float64(at-s.Decision.Clock) / pace))
	}
	f := &s.Forecast.Finish
	return wall(f.Early), wall(f.At), wall(f.Late), true
}

// ForecastOff is the mean distance of the finish of the last batch that was completed
// from what was forecast of it; ok is false where there is none.
func (d *Daemon) ForecastOff() (off time.Duration, ok bool) {
	bits := d.ahead.missed.Load()
	return time.Duration(math.Float64frombits(bits) * float64(time.Second)), bits != 0
}
