// Package learn fits the kettle's model anew while a batch runs: beside the
// loop, never in it. It watches the frames of a mash; when a heated rest has
// stood for a while, its heat-up, coast and hold are fitted, and the result is
// proposed to the core, which decides.
package learn

import (
	"time"

	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/observer"
	"mashward/controller/tune"
	"mashward/controller/unit"
	"mashward/profile"
)

// Figures of the learner.
const (
	// before is how much of the rest before a heat-up is fitted with it.
	before = 3 * time.Minute
	// enough is how long a rest has stood when it is fitted.
	enough = 12 * time.Minute
	// least is the shortest that is worth a try, where a rest ends before.
	least = 5 * time.Minute
	// most is the longest record of one rest.
	most = 3 * time.Hour
	// longest is the longest tick; a second that was missed would stretch all that
	// comes after it.
	longest = 1500 * time.Millisecond
	// answer is when a proposal comes after it was asked for, in simulation: as
	// late as on a small board, and at the same tick each time.
	answer = 20
)

// Learner watches one batch. Make it with New.
type Learner struct {
	prior   observer.Model
	load    unit.JoulesPerKelvin // of the mash that is watched; 0: there is none
	mash    unit.JoulesPerKelvin // that the prior is of
	aside   bool                 // fit in a goroutine of its own
	spans   []tune.Span
	span    span
	step    uint8
	now     time.Duration // run clock of the last tick
	reached time.Duration // run clock; 0: not yet
	asked   bool
	left    int // ticks until the proposal is handed over
	next    controller.Proposal
	done    chan controller.Proposal
}

// span gathers the seconds of one.
type span struct {
	seconds, on, readings int
	sum                   float64
}

// New is a learner for a batch with this configuration. aside fits in a
// goroutine of its own, as beside a real kettle; else in the tick that asks,
// so that a rehearsal gives the same each time.
func New(c controller.Config, aside bool) *Learner {
	m := c.Model
	if !m.Good() {
		m = guess(c)
	}
	if c.LoadMash > 0 {
		m = m.With(c.LoadMash)
	}
	m.InMash = c.Place == controller.Bed
	return &Learner{prior: m, mash: c.LoadMash, aside: aside, done: make(chan controller.Proposal, 1)}
}

// guess is a model for a kettle without a water test: as declared, its lags those
// of any kettle.
func guess(c controller.Config) observer.Model {
	half := c.LoadMash / 2
	return observer.Model{
		Power: c.Power, Loss: c.Loss, Room: c.Room, Heated: half, Mash: half, Exchange: unit.WattsPerKelvin(float64(half) / 60),
		Element: 8 * time.Second, Probe: 10 * time.Second, Delay: 3 * time.Second,
	}
}

// Watch implements loop.Watcher.
func (l *Learner) Watch(f *loop.Frame) {
	d := &f.Decision
	gap := f.Tick.Now - l.now
	l.now = f.Tick.Now
	other := l.another(f.State)
	if !d.Stirred || !f.State.GrainIn || f.State.Lifted || gap > longest || other {
		l.forget()
		return
	}
	if d.Index != l.step {
		l.turn(d, f.Tick.Now)
	}
	l.gather(f)
	if d.Reached && l.reached == 0 {
		l.reached = f.Tick.Now
	}
	if l.reached > 0 && !l.asked && f.Tick.Now-l.reached >= enough {
		l.ask()
	}
}

// another tells that water that went in or out has made another mash of it.
func (l *Learner) another(s *controller.State) bool {
	was := l.load
	l.load = s.Load
	if !s.GrainIn {
		l.load = 0
	}
	if was == 0 && l.load != l.mash && l.load > 0 && l.mash > 0 { // grain or water were another before the pour
		l.prior, l.mash = l.prior.With(s.Load), l.load
	}
	if was == 0 || was == l.load {
		return false
	}
	l.prior = l.prior.With(s.Load)
	return true
}

// forget begins anew: what was gathered is of a mash that went on by itself.
func (l *Learner) forget() {
	l.spans, l.span, l.step, l.reached, l.asked = l.spans[:0], span{}, 0, 0, false
}

// turn begins the record of a new step with the last minutes of the one before.
func (l *Learner) turn(d *controller.Decision, now time.Duration) {
	if l.reached > 0 && !l.asked && now-l.reached >= least {
		l.ask()
	}
	if d.Kind == profile.MashIn {
		l.asked = true // there is no heat-up to fit
	} else {
		keep := min(len(l.spans), int(before/tune.Period))
		l.spans = append(l.spans[:0], l.spans[len(l.spans)-keep:]...)
		l.asked = keep < int(before/tune.Period)
	}
	l.step, l.reached = d.Index, 0
}

// gather adds a second.
func (l *Learner) gather(f *loop.Frame) {
	s := &l.span
	s.seconds++
	if f.Tick.Applied == unit.On {
		s.on++
	}
	if f.Tick.Reading.Good() {
		s.sum += float64(f.Tick.Reading.Value)
		s.readings++
	}
	if s.seconds < int(tune.Period/time.Second) {
		return
	}
	if len(l.spans) < int(most/tune.Period) {
		one := tune.Span{Duty: float64(s.on) / float64(s.seconds)}
		if s.readings > 0 {
			one.Reading, one.Has = unit.Celsius(s.sum/float64(s.readings)), true
		}
		l.spans = append(l.spans, one)
	}
	*s = span{}
}

// ask has what was gathered fitted.
func (l *Learner) ask() {
	l.asked = true
	if !l.aside {
		l.next, l.left = fit(l.spans, l.prior), answer
		return
	}
	spans, prior := append([]tune.Span(nil), l.spans...), l.prior
	go func() {
		select {
		case l.done <- fit(spans, prior):
		default: // one is under way that nobody has taken yet
		}
	}()
}

// fit is the proposal that a record makes.
func fit(spans []tune.Span, prior observer.Model) controller.Proposal {
	r := tune.Refit(spans, prior)
	return controller.Proposal{Present: true, Model: r.Model, Evidence: controller.Evidence{
		Residual: r.Residual, Before: r.Before, Doubt: r.Doubt, Inside: r.Inside, Span: time.Duration(len(spans)) * tune.Period,
	}}
}

// Take is the proposal for this tick, if there is one.
func (l *Learner) Take() controller.Proposal {
	if l == nil {
		return controller.Proposal{}
	}
	select {
	case p := <-l.done:
		return p
	default:
	}
	if l.left > 0 {
		if l.left--; l.left == 0 {
			return l.next
		}
	}
	return controller.Proposal{}
}
