package daemon

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"slices"
	"sync/atomic"
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/cmd/internal/config"
	"mashward/cmd/internal/enzymes"
	"mashward/cmd/internal/late"
	"mashward/cmd/internal/late/follow"
	"mashward/cmd/internal/learn"
	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/say"
	"mashward/cmd/internal/wort"
	"mashward/cmd/mashward/internal/wall"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/line"
	"mashward/controller/loop"
	"mashward/controller/record"
	"mashward/profile"
	"mashward/profile/strict"
	"mashward/sim"
)

// Options are what serve was called with.
type Options struct {
	RigPath   string
	Rig       config.Rig
	RigFaults []strict.Fault // refusals of a broken rig file: heat is disabled and they are shown
	Disabled  string         // why nothing is heated although the rig is good; "" where it may be
	RigText   []byte
	Profiles  string                                    // folder
	Records   string                                    // folder; "" keeps no records
	Storage   func(path string) (record.Storage, error) // makes the storage of one; nil: a file
	Waits     string                                    // file that keeps what is armed for later, so that a restart can say so; "" keeps none
	Latched   string                                    // file that keeps what has tripped over a restart; "" keeps none
	Plant     sim.Params
	Simulated bool
	Program   string // version
	Kettle    Kettle // nil with a broken rig
	Now       func() time.Time
	Log       *slog.Logger
	Watchers  []loop.Watcher
	Person    Person                                                          // a simulated person, asked in ticks without another order; nil for real ones
	Began     func(*Batch)                                                    // called in the loop when a batch begins, or is offered; may be nil
	Boot      func() wall.Boot                                                // what is known of this start of the computer; nil: nothing
	foresee   foresee                                                         // tests have one that fails; nil: that of ahead
	WhatIf    func(*ahead.Instant, controller.Command) (ahead.Outlook, error) // tests have one that is slow; nil: that of ahead
	Restarts  int                                                             // how often mashward was started in a row without having run for long
}

// Person is a simulated one.
type Person interface {
	// Take is what he presses in this tick.
	Take() controller.Command
}

// Daemon keeps one kettle.
type Daemon struct {
	o      Options
	kettle Kettle
	queue  orders
	latest atomic.Pointer[Snapshot]
	bell   bell
	arming arming
	shelf  shelf // rehearsals done
	differ atomic.Pointer[string]
	learnt atomic.Pointer[learnt]
	order  atomic.Uint64 // of the newest record

	// Owned by the loop's goroutine.
	loop    loop.Loop
	current *order
	batch   *Batch
	learner *learn.Learner // of this batch
	day     *ahead.Day     // what its forecasts have to know; never changed
	cut     *cutOff        // what is known of a batch that is offered
	latch   latch
	ahead   forecaster
	asking  atomic.Bool // what would come of something is being worked out
	wait    *awaited    // a batch that is armed for later; nil: none
	pending latch       // the same on disk
	// What was armed for later and did not start, until the next is armed or begins.
	unstarted *Waiting
	// Why a batch that was cut off is not offered, until another one begins; "" if
	// there is none.
	unoffered string
	folder    string // name of the folder of records
	mine      *order // what the daemon itself asks for in the next tick
	past      history
	mash      enzymes.Follower
	wort      *wort.Follower
	late      *follow.Follower // how late it is against its plan
	log       []Entry
	alarms    alarmBook
	number    uint64
	heard     uint64          // presses of STOP that the loop has taken
	closing   []chan struct{} // records that are being closed
}

// New prepares a daemon, and puts a batch that was cut off before it as an offer;
// Run starts it.
func New(o Options) *Daemon {
	d := &Daemon{o: o, kettle: o.Kettle}
	if d.kettle != nil {
		d.loop = loop.Loop{
			Core: controller.Core{Config: idleConfig(o.Rig)}, State: controller.Initial(), Limits: idleLimits(o.Rig),
			Pacer: d.kettle, Probe: d.kettle, Element: d.kettle.Element(), Pump: d.kettle.Pump(), Contactor: d.kettle.Contactor(),
			Orders: (*taker)(d), Watchers: o.Watchers,
		}
		d.loop.Verifier.Params = rehearse.IdleChecks(o.Rig)
	}
	d.latest.Store(&Snapshot{Wall: o.Now(), Rig: o.Rig.Name, Simulated: o.Simulated, RigFaults: o.RigFaults, HeatDisabled: d.kettle == nil, Disabled: o.Disabled})
	if d.kettle != nil {
		d.recall()
		d.latchAgain()
		d.missed()
	}
	return d
}

// idleConfig is what the core needs to know between batches: enough to show a
// temperature, nothing that could heat.
func idleConfig(rig config.Rig) controller.Config {
	return controller.Config{
		Power: rig.Element.Power, Loss: rig.Kettle.Loss, Vessel: rig.Kettle.Vessel,
		Boiling: rig.Boiling(), Room: rig.Site.Room, Tap: rig.Site.Tap, HasPump: rig.Pump.Present(),
	}
}

// idleLimits permit nothing: nobody has armed anything.
func idleLimits(rig config.Rig) interlock.Limits {
	return interlock.Limits{Boiling: rig.Boiling(), Rig: rig.Limits.OverTemperature}
}

// Guard is the interlock's memory. Only watchers may read it, within Watch.
func (d *Daemon) Guard() *interlock.Guard { return &d.loop.Guard }

// Overruns counts ticks that were skipped, where the kettle tells.
func (d *Daemon) Overruns() uint64 {
	if k, ok := d.kettle.(interface{ Overruns() uint64 }); ok {
		return k.Overruns()
	}
	return 0
}

// Late is how late the ticks began; nil where the kettle does not tell.
func (d *Daemon) Late() *wall.Lateness {
	if k, ok := d.kettle.(interface{ Late() *wall.Lateness }); ok {
		return k.Late()
	}
	return nil
}

// watchers are those of every batch; a record comes on top.
func (d *Daemon) watchers() []loop.Watcher {
	w := slices.Clone(d.o.Watchers)
	if d.learner != nil {
		w = append(w, d.learner)
	}
	return w
}

// taker hands the loop the order of this tick.
type taker Daemon

// Take implements loop.Orders.
func (t *taker) Take() (controller.Command, controller.Proposal) {
	fit := t.learner.Take()
	if t.current == nil && t.o.Person != nil {
		return t.o.Person.Take(), fit
	}
	if t.current == nil {
		return controller.Command{}, fit
	}
	return t.current.command, fit
}

// Run ticks until ctx is done. Heat is off before anything else is done about
// the end, also while the pacer still waits for the next tick.
func (d *Daemon) Run(ctx context.Context) {
	if d.kettle == nil {
		<-ctx.Done()
		d.queue.close()
		return
	}
	d.beginLatch()
	d.ahead.begin(d.o.foresee)
	defer d.end()
	defer context.AfterFunc(ctx, d.kettle.Drop)()
	for {
		now, ok := d.kettle.Next()
		if !ok || ctx.Err() != nil {
			return
		}
		d.tick(now)
	}
}

// end drops the lines first, then closes what is open.
func (d *Daemon) end() {
	d.kettle.Drop()
	d.queue.close()
	d.closeRecord()
	d.endLatch()
	d.ahead.end()
	for _, done := range d.closing {
		<-done // at most ten seconds each
	}
	if c, ok := d.kettle.(io.Closer); ok {
		if err := c.Close(); err != nil {
			d.o.Log.Error("ended, and a line is not known to be off: isolate the element at the breaker", "error", err)
			return
		}
	}
	d.o.Log.Info("ended, not heating")
}

// tick does one cycle: an order, the loop, the hands of a simulated person,
// and a snapshot.
func (d *Daemon) tick(now time.Duration) {
	if d.current = d.queue.pop(); d.current == nil {
		d.current = d.mine
	}
	d.mine = nil // a person's order, STOP above all, does away with it
	beside := d.besideCore(now)
	if d.current != nil && d.current.batch != nil && !d.admit(d.current, now) {
		d.current = nil
	}
	f := d.loop.Tick(now)
	d.kettle.Hands(f)
	d.offered(f)
	d.waits(f)
	d.regrain(f)
	d.keepLatched()
	d.note(f)
	d.publish(f)
	d.foresee(f) // behind it: whether the worker is quick must not show in this tick
	if d.current != nil {
		d.answer(f) // after the snapshot: who asked sees in it what was done
	}
	if beside != nil {
		beside.done(Reply{Accepted: true}, nil)
	}
	if f.Decision.Mode.Ended() {
		d.closeRecord()
	}
}

// admit begins a batch if one may begin in this very tick. One that may not
// leaves everything as it is.
func (d *Daemon) admit(o *order, now time.Duration) bool {
	switch err := d.unhindered(); {
	case !free(d.loop.State.Mode): // offered, before anyone could see it
		o.done(Reply{Why: controller.AlreadyStarted}, nil)
	case errors.Is(err, ErrTripped):
		o.done(Reply{Why: controller.TripStands}, nil)
	case err != nil:
		o.done(Reply{Why: controller.AlreadyStarted}, nil)
	case !d.mayBegin(o.batch, now):
		o.done(Reply{Why: controller.WrongMode}, nil)
	default:
		d.begin(o.batch)
		return true
	}
	go d.discard(o.batch)
	return false
}

func (d *Daemon) discard(b *Batch) {
	if err := b.discardRecord(d.o.Records); err != nil {
		d.o.Log.Error("record", "batch", b.ID, "error", err)
	}
}

// answer tells the one who asked what became of it.
func (d *Daemon) answer(f *loop.Frame) {
	if d.current.command.Wish == controller.Stop {
		d.stopTaken(d.current)
	}
	r := Reply{Accepted: true}
	for _, e := range f.Decision.Events[:f.Decision.Count] {
		if e.Kind == controller.Refused {
			r = Reply{Why: controller.Refusal(e.Value)}
		}
	}
	d.current.done(r, nil)
}

// begin puts a batch before the loop. The interlock starts anew with its
// limits, but never forgets a trip.
func (d *Daemon) begin(b *Batch) {
	if b.Later == nil { // else it was filled when it was armed
		d.kettle.Fill(b.Profile)
	}
	d.wait, d.unstarted = nil, nil
	d.pending.put("")
	config, limits := d.made(b)
	d.put(b, config, limits)
	d.loop.Verifier.Params = rehearse.Checks(b.Plan, d.o.Rig.Found)
	d.loop.State, d.loop.Guard, d.loop.Watch = controller.Initial(), d.loop.Guard.Restarted(), d.loop.Watch.Restarted()
	d.past, d.log, d.cut, d.mine, d.unoffered, d.mash = history{}, nil, nil, nil, "", enzymes.Follower{NoGrain: enzymes.NoGrain(&config)}
	d.wort = wort.New(b.Profile, config)
	d.late = follow.New(late.Of(b.Plan))
	d.openRecord(b)
	if b.Later != nil {
		d.tell(Entry{Wall: d.o.Now(), Text: "Begun by itself, " + b.Later.note() + "."})
	}
	d.noteOverride(b)
	if d.o.Began != nil {
		d.o.Began(b)
	}
}

// put makes a batch the one that the loop runs, with a learner of its own.
func (d *Daemon) put(b *Batch, config controller.Config, limits interlock.Limits) {
	d.batch = b
	d.loop.Core.Config, d.loop.Limits = config, limits
	d.learner, d.day = nil, d.dayOf(b)
	if b.Profile.Use != profile.WaterBrew { // water is no mash to learn from
		d.learner = learn.New(config, !d.o.Simulated)
	}
	d.loop.Watchers = d.watchers()
}

// made is what core and interlock are told of a batch.
func (d *Daemon) made(b *Batch) (controller.Config, interlock.Limits) {
	c := rehearse.Core(b.Profile, b.Plan)
	c.Model = d.o.Rig.Model()
	return c, rehearse.Limits(b.Profile, b.Plan)
}

// note logs a line for each change of state, and keeps what people may want to
// read again.
func (d *Daemon) note(f *loop.Frame) {
	dec := &f.Decision
	for _, e := range dec.Events[:dec.Count] {
		if e.Kind == controller.ModeChanged {
			d.o.Log.Info("batch", "state", dec.Mode.String(), "reason", dec.Reason.String(), "step", dec.Index)
		}
		if e.Kind == controller.StepStarted {
			d.o.Log.Info("step", "index", e.Step, "kind", dec.Kind.String())
		}
		if d.batch == nil {
			continue
		}
		if text := d.batch.Say.Sentence(e, f.Tick.Command); text != "" {
			d.tell(Entry{At: dec.Clock, Wall: d.o.Now(), Kind: e.Kind, Text: text})
		}
	}
	d.noteCuts(f)
	d.noteLine(f)
	d.noteGivenUp(f)
	d.noteRecord(f)
}

// noteLine says once that a line gives an error, and once that it does not any
// more.
func (d *Daemon) noteLine(f *loop.Frame) {
	was, is := d.latest.Load().LineFault, unanswered(f.LineFault)
	switch {
	case is != nil && was == nil:
		d.o.Log.Error("a line gives an error: what it does is unknown, and off is repeated", "error", is)
		d.tell(Entry{At: f.Decision.Clock, Wall: d.o.Now(), Text: "The relay does not answer, and nobody knows whether it heats: isolate the element at the breaker."})
	case is == nil && was != nil:
		d.o.Log.Warn("the line takes its orders again")
		d.tell(Entry{At: f.Decision.Clock, Wall: d.o.Now(), Text: "The relay answers again."})
	}
}

// noteGivenUp says once that a line is not switched on any more, and once that it
// is tried again.
func (d *Daemon) noteGivenUp(f *loop.Frame) {
	was, is := d.latest.Load().GaveUp, f.GaveUp
	switch {
	case is && !was:
		d.o.Log.Error("the keeper of a line was lost again and again: heat stays off until a person has looked and cleared it")
		d.tell(Entry{At: f.Decision.Clock, Wall: d.o.Now(), Text: "Heat stays off: what drives a relay failed again and again. Isolate the element, look for the cause, then clear it."})
	case was && !is:
		d.o.Log.Warn("a person has looked: the line may be switched on again")
	}
}

// unanswered is an error of a line that leaves unknown what the line does. One
// that was dropped refuses heat, and is off: STOP is no fault.
func unanswered(err error) error {
	for _, known := range []error{line.ErrDropped, line.ErrExpired, sim.ErrDropped} {
		if errors.Is(err, known) {
			return nil
		}
	}
	return err
}

// noteCuts keeps when heat was cut, once a cut.
func (d *Daemon) noteCuts(f *loop.Frame) {
	last := d.latest.Load()
	if f.Verdict.Cut != last.Cut && f.Verdict.Cut != interlock.NoRule {
		d.o.Log.Warn("heat cut", "rule", f.Verdict.Cut.String())
		d.tell(Entry{At: f.Decision.Clock, Wall: d.o.Now(), Text: "Heat is cut for a while: " + f.Verdict.Cut.String() + "."})
	}
	if f.Verdict.Trip != last.Trip && f.Verdict.Trip != interlock.NoRule {
		d.o.Log.Error("heat cut, latched", "rule", f.Verdict.Trip.String())
		d.tell(Entry{At: f.Decision.Clock, Wall: d.o.Now(), Text: sayTrip(f)})
	}
}

// sayTrip is a trip as a sentence. What the checks have found comes with its
// figures.
func sayTrip(f *loop.Frame) string {
	text := "Heat is cut and stays off: " + f.Verdict.Trip.String() + "."
	if f.Facts.Finding == f.Verdict.Trip || loop.RuleOf(f.Watch.Found) == f.Verdict.Trip {
		text += " " + say.Finding(f.Watch.Found)
	}
	return text
}
