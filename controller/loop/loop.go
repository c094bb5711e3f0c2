// Package loop is the only loop and the only caller of Hold. On the kettle
// and on the simulator it is the same: three arguments differ, the pacer, the
// probe and the lines.
//
// One tick: the time comes from the pacer, the reading from the probe, the
// decision from the core, the permission from the interlock; the lines are
// held for a short lease; then everyone who watches gets one frame. Heat off
// comes first, writing after.
package loop

import (
	"cmp"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/line"
	"mashward/controller/unit"
	"mashward/controller/verify"
	"mashward/sensors"
)

// Lease is how long one tick's permission lasts. A loop that stalls or dies
// leaves the element off after this, whatever else happens.
const Lease = 3 * time.Second

// Pacer is the one source of time: it returns when the next tick is due, with
// the run clock. ok is false when there are no more ticks.
type Pacer interface {
	Next() (now time.Duration, ok bool)
}

// Element is the line that drives the heating element. Applied is what it
// really did since the last tick.
type Element interface {
	line.Line
	Applied() unit.Relay
}

// Wary is a line that may refuse heat until a person has looked, because its
// driver has failed too often. A line need not be one.
type Wary interface {
	GaveUp() bool
	TryAgain() // a person has looked
}

// Orders gives at most one command, and at most one proposal, a tick.
type Orders interface {
	Take() (controller.Command, controller.Proposal)
}

// Watcher is shown every frame. It must not block and must not keep the
// pointer: the frame is good until it returns.
type Watcher interface {
	Watch(*Frame)
}

// Frame is everything about one tick. Record, metrics, page and trace are
// projections of it.
type Frame struct {
	Number    uint64
	Tick      controller.Tick
	State     *controller.State
	Decision  controller.Decision
	Facts     interlock.Facts
	Verdict   interlock.Verdict
	Permitted unit.Relay
	Watch     *verify.State  // the checks' memory
	Finding   verify.Finding // what the checks find in this tick
	LineFault error          // the element's line refused; nil if not
	GaveUp    bool           // a line has, and heat stays off until a person has looked
}

// Loop carries one batch. Fill in the fields, then call Run, or Tick for one
// tick at a time.
type Loop struct {
	Core     controller.Core
	State    controller.State
	Limits   interlock.Limits
	Guard    interlock.Guard
	Verifier verify.Verifier // without parameters it finds nothing
	Watch    verify.State    // its memory
	Pacer    Pacer
	Probe    sensors.Probe
	Element  Element
	Pump     line.Line // nil where the rig has none
	// Contactor is a second contact in series with the element's relay; nil where
	// the rig has none. It is closed while the batch may heat at all, a tick before
	// the element may be on, and opened for a relay that may be welded.
	Contactor line.Line
	Orders    Orders
	Watchers  []Watcher

	frame   Frame
	verdict interlock.Verdict // of the last tick
	contact unit.Relay        // the contactor was closed in it
}

// Run ticks until the pacer ends, or until done says so. Every way out of it,
// a panic included, drops the element first.
func (l *Loop) Run(done func(*Frame) bool) {
	defer l.drop()
	for {
		now, ok := l.Pacer.Next()
		if !ok {
			return
		}
		l.Tick(now)
		if done(&l.frame) {
			return
		}
	}
}

// drop takes heat and pump away for good.
func (l *Loop) drop() {
	if l.Pump != nil {
		defer l.Pump.Drop() // also when the element's driver panics
	}
	if l.Contactor != nil {
		defer l.Contactor.Drop()
	}
	l.Element.Drop()
}

// Tick does one sense-decide-act cycle at now.
func (l *Loop) Tick(now time.Duration) *Frame {
	f := &l.frame
	f.Number++
	f.Tick = controller.Tick{
		Now: now, Reading: l.Probe.Latest(), Applied: l.Element.Applied(),
		Inhibited: l.verdict.Cut != interlock.NoRule, Trip: reasonOf(l.verdict.Trip), Weak: l.Watch.Half,
	}
	if f.GaveUp = l.gaveUp(); f.GaveUp && f.Tick.Trip == controller.NoReason {
		f.Tick.Trip = controller.LineLost
	}
	if l.Orders != nil {
		f.Tick.Command, f.Tick.Proposal = l.Orders.Take()
	}
	if f.GaveUp && f.Tick.Command.Wish == controller.ClearTrip {
		l.tryAgain()
	}
	l.State, f.Decision = l.Core.Step(l.State, f.Tick)
	f.State = &l.State
	f.Facts = factsOf(&f.Tick, &f.Decision)
	l.Watch, f.Finding = l.Verifier.Step(l.Watch, Checked(&f.Tick, &l.State, &f.Decision))
	f.Watch, f.Facts.Finding = &l.Watch, RuleOf(f.Finding)
	l.Guard, l.verdict = l.Limits.Step(l.Guard, f.Facts)
	f.Verdict, f.Permitted = l.verdict, l.verdict.Permitted
	f.LineFault = l.act(f)
	for _, w := range l.Watchers {
		w.Watch(f)
	}
	return f
}

// gaveUp tells whether a line has given up.
func (l *Loop) gaveUp() bool {
	for _, one := range [...]line.Line{l.Element, l.Contactor, l.Pump} {
		if w, ok := one.(Wary); ok && w.GaveUp() {
			return true
		}
	}
	return false
}

// tryAgain lets the lines be switched on again, by a person's word.
func (l *Loop) tryAgain() {
	for _, one := range [...]line.Line{l.Element, l.Contactor, l.Pump} {
		if w, ok := one.(Wary); ok {
			w.TryAgain()
		}
	}
}

// act holds the lines for one lease. The element comes first, so that what is to
// go off is off before the contactor behind it opens; and it is not on before the
// contactor was closed for a tick, so that this closes without current.
func (l *Loop) act(f *Frame) error {
	element := f.Permitted
	if l.Contactor != nil {
		element = element.And(l.contact)
	}
	err := l.Element.Hold(element, Lease)
	if l.Contactor != nil {
		closed := l.closed(f)
		second := l.Contactor.Hold(closed, Lease)
		l.contact = unit.RelayOf(closed == unit.On && second == nil)
		err = cmp.Or(err, second)
	}
	if l.Pump != nil {
		err = cmp.Or(err, l.Pump.Hold(f.Decision.Pump, Lease))
	}
	return err
}

// closed is how the contactor stands: closed in a batch that may heat, unless
// heat came that was not switched on.
func (l *Loop) closed(f *Frame) unit.Relay {
	welded := l.Guard.Marks[interlock.HeatingWhileOff].State != interlock.Quiet
	return unit.RelayOf(f.Decision.Mode.Heats() && !welded)
}

// Latest is the last frame.
func (l *Loop) Latest() *Frame { return &l.frame }

// factsOf is what the interlock may know: the raw reading and what the core
// declares, never a target or a filter.
func factsOf(t *controller.Tick, d *controller.Decision) interlock.Facts {
	f := interlock.Facts{
		Now: t.Now, Reading: t.Reading, Wanted: d.Wanted, Applied: t.Applied,
		Armed: d.Armed, Heats: d.Mode.Heats(), Volume: d.Volume, Statement: d.Statement, Drawn: d.Drawn,
		Clear: t.Command.Wish == controller.ClearTrip,
	}
	if d.Lifted {
		f.Stage = interlock.Lifted
	}
	return f
}
