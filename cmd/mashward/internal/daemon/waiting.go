package daemon

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"sync/atomic"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/mashward/internal/wall"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile/strict"
)

// ErrWaiting says that a start was armed for later.
var ErrWaiting = errors.New("a batch is armed for later: call it off first")

// Waiting is a batch that was armed for later, as everyone sees it: nothing heats. It
// is never changed after it has been published.
type Waiting struct {
	Batch *Batch        // nil for one that an earlier run of the program had
	In    time.Duration // until it heats, by the run clock
	Over  string        // why it does not start by itself any more; "" while it waits
	Alarm bool          // and nobody asked for that
}

// awaited is what the loop keeps of it.
type awaited struct {
	batch *Batch
	after uint64        // presses of STOP at its arming; a later one calls it off
	due   time.Duration // run clock
	good  row
	at    unit.Celsius // of the first readings
	since time.Duration
	known bool // at and since are
	asked bool // somebody looks at files and rehearsal
	sent  bool // its order is on the way
	found atomic.Pointer[found]
}

// found is what was seen off the tick shortly before the start.
type found struct{ sameRig, same, passes bool }

// lookBefore is how long before its moment files and rehearsal are looked at: longer
// than a small board takes.
const lookBefore = time.Minute

// besideCore takes what the core learns nothing of: what concerns a batch that is armed
// for later, and that alarms were seen. It returns the order if it was one; that is
// answered with the tick.
func (d *Daemon) besideCore(now time.Duration) *order {
	o := d.current
	switch {
	case o == nil:
		return nil
	case o.callOff:
		d.calledOff()
	case o.seen > 0:
		d.alarms.upTo = o.seen
	case o.batch != nil && o.batch.Later != nil && d.wait == nil:
		if !d.postpone(o, now) {
			return nil // as with any batch that cannot begin
		}
	default:
		return nil
	}
	d.current = nil
	return o
}

// calledOff ends what waits by a person's word, or takes away what was said of it.
func (d *Daemon) calledOff() {
	if d.wait != nil {
		d.o.Log.Info("armed for later: called off", "profile", d.wait.batch.File)
	}
	d.wait, d.unstarted = nil, nil
	d.pending.put("")
}

// postpone lets a batch wait for its moment, if it could begin now.
func (d *Daemon) postpone(o *order, now time.Duration) bool {
	l := o.batch.Later
	if d.unhindered() != nil || !free(d.loop.State.Mode) || now > l.last {
		return false
	}
	d.kettle.Fill(o.batch.Profile)
	d.loop.Watch = d.loop.Watch.Restarted() // which knows nothing of what was filled in
	d.wait, d.unstarted = &awaited{batch: o.batch, after: o.after, due: max(l.due, now)}, nil
	d.pending.put(l.Heats.Format("15:04 on 2006-01-02") + "\n" + o.batch.Profile.Name + "\n")
	d.o.Log.Info("armed for later: nothing is heated until then", "profile", o.batch.File, "heats", l.Heats, "ready", l.Ready)
	return true
}

// waits does for a batch that is armed for later what a tick asks for.
func (d *Daemon) waits(f *loop.Frame) {
	w := d.wait
	if w == nil {
		return
	}
	w.read(f)
	seen := d.dueFacts(w, f.Tick.Now)
	if why := seen.never(); why != "" {
		d.unbegun(why, !seen.stopped)
		return
	}
	if !w.asked && f.Tick.Now >= w.due-lookBefore {
		w.asked = true
		go func() { w.found.Store(d.look(w.batch)) }()
	}
	if f.Tick.Now < w.due {
		return
	}
	switch why, soon := seen.against(); {
	case why == "" && w.sent, soon && seen.late < patient: // a little longer
	case why == "":
		w.sent = true
		go d.beginDue(w)
	default:
		d.unbegun(why, true)
	}
}

// read takes in the reading of one tick.
func (w *awaited) read(f *loop.Frame) {
	if w.good.take(f) && !w.known && w.good.enough() {
		w.at, w.since, w.known = f.Decision.Filtered, f.Tick.Now, true
	}
}

// dueFacts is what the rules of a later start look at.
func (d *Daemon) dueFacts(w *awaited, now time.Duration) due {
	last, l := d.latest.Load(), w.batch.Later
	wallNow := d.o.Now()
	f := due{
		stopped: d.queue.stops.Load() != w.after, tripped: last.Trip != interlock.NoRule,
		cut: last.Cut, relay: last.LineFault != nil || last.GaveUp, age: now - l.stamp.Run,
		byClock: l.ByClock, agree: wall.StampAt(now, wallNow).Agree(l.stamp), late: max(0, now-w.due),
	}
	if l.ByClock {
		f.doubt = d.boot().Doubt(wallNow)
	}
	if w.known && last.Decision.HasEstimate {
		f.readings, f.span, f.now = w.good.readings, w.good.newest-w.good.first, last.Decision.Filtered
		f.least, f.most = drifted(&w.batch.Say.Config, w.at, now-w.since)
	}
	if seen := w.found.Load(); seen != nil {
		f.looked, f.sameRig, f.same, f.passes = true, seen.sameRig, seen.same, seen.passes
	}
	return f
}

// look reads the files anew and rehearses, off the tick.
func (d *Daemon) look(b *Batch) *found {
	var seen found
	text, err := os.ReadFile(d.o.RigPath)
	again, _, err2 := config.LoadRig(d.o.RigPath)
	seen.sameRig = err == nil && err2 == nil && bytes.Equal(text, d.o.RigText) && sameTuning(again.Found, d.o.Rig.Found)
	now, faults, err := d.load(b.id)
	seen.same = err == nil && !strict.Refused(faults) && now.Hash == b.Hash
	if seen.sameRig && seen.same {
		result, err := d.rehearsal(now)
		kept := len(BrokenBy(result)) == 0 || len(b.Overridden) > 0 // as at arming
		seen.passes = err == nil && result.Outcome == controller.Complete.String() && kept
	}
	return &seen
}

func sameTuning(one, other *config.Tuning) bool {
	if one == nil || other == nil {
		return one == other
	}
	return bytes.Equal(one.Text(), other.Text())
}

// beginDue makes the record, off the tick, and sends the batch on its way. The tick
// that takes it looks once more.
func (d *Daemon) beginDue(w *awaited) {
	ctx, cancel := context.WithTimeout(context.Background(), patient)
	defer cancel()
	batch := *w.batch // that one has been shown, and does not change
	b := &batch
	b.Armed = d.o.Now()
	b.ID = b.Armed.UTC().Format("20060102-150405") + "-" + b.Hash[:6]
	b.order = d.order.Add(1)
	b.createRecord(&d.o)
	_, err := d.send(ctx, &order{command: controller.Command{Wish: controller.Start}, batch: b, after: w.after})
	if err != nil {
		d.o.Log.Error("armed for later, and not begun", "error", err)
		if !errors.Is(err, ErrSilent) {
			d.discard(b)
		}
	}
}

// mayBegin tells, in the tick that takes it, whether a batch that was armed for later may
// begin. One that was called off meanwhile, or that something speaks against, may not.
func (d *Daemon) mayBegin(b *Batch, now time.Duration) bool {
	if b.Later == nil {
		return d.wait == nil // what waits has to be called off first
	}
	if d.wait == nil || d.wait.batch.Later != b.Later {
		return false
	}
	why, _ := d.dueFacts(d.wait, now).against()
	if why != "" {
		d.unbegun(why, true)
	}
	return why == ""
}

// unbegun ends the waiting without heat, and says why.
func (d *Daemon) unbegun(why string, alarm bool) {
	d.o.Log.Warn("armed for later: it does not start", "why", why)
	d.unstarted = &Waiting{Batch: d.wait.batch, Over: why, Alarm: alarm}
	d.wait = nil
	d.pending.put("")
}

// whatWaits is what everyone sees of it.
func (d *Daemon) whatWaits(now time.Duration) *Waiting {
	if w := d.wait; w != nil {
		return &Waiting{Batch: w.batch, In: max(0, w.due-now)}
	}
	return d.unstarted
}

// CallOff ends what is armed for later. Where nothing waits it takes away what is said
// of one that did not start.
func (d *Daemon) CallOff(ctx context.Context) (Reply, error) {
	if d.kettle == nil {
		return Reply{}, ErrDisabled
	}
	if d.Latest().Waiting == nil {
		return Reply{Why: controller.WrongMode}, nil
	}
	return d.send(ctx, &order{callOff: true, after: d.queue.stops.Load()})
}

// missed says, after a start of the program, what the one before had armed for later:
// it does not start by itself.
func (d *Daemon) missed() {
	if d.o.Waits == "" {
		return
	}
	text, err := os.ReadFile(d.o.Waits)
	d.pending.path, d.pending.last = d.o.Waits, string(text)
	switch {
	case errors.Is(err, fs.ErrNotExist) || err == nil && len(text) == 0:
		return
	case err != nil:
		d.o.Log.Error("whether something was armed for later is not known", "error", err)
		return
	}
	when, name, _ := strings.Cut(strings.TrimSpace(string(text)), "\n")
	d.unstarted = &Waiting{Alarm: true, Over: fmt.Sprintf("mashward ended while %q waited to heat at %s. Nothing was heated, and it does not start by itself: look at the kettle, and arm it again", name, when)}
	d.o.Log.Warn("what was armed for later does not start after a restart", "profile", name, "heats", when)
}
