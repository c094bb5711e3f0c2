package metricset

import (
	"sync/atomic"
	"time"

	"mashward/cmd/internal/late/follow"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/sensors"
)

// Tracker follows the frames of a loop. Once a tick it lays out a sample for
// whoever asks. It waits for nobody and allocates nothing.
type Tracker struct {
	// Guard is the memory of the loop's interlock, read within Watch. With it
	// all rules are told that cut or have tripped, without it the oldest of each.
	Guard *interlock.Guard

	batch atomic.Pointer[Batch]
	shelf shelf

	// Owned by the loop.
	sample Sample
	now    time.Duration // run clock of the last frame
	prompt controller.Prompt
	failed reason // of the last reading
	taken  time.Duration
	late   *follow.Follower // of the batch
}

// NewTracker follows an element of this declared power.
func NewTracker(power unit.Watts) *Tracker {
	t := &Tracker{}
	t.sample.element.power = power
	return t
}

// Follow says which batch the frames from the next one on belong to; nil for
// none. It may be called from anywhere.
func (t *Tracker) Follow(b *Batch) { t.batch.Store(b) }

// Latest is the sample of the last tick, false before the first. It may be
// called from anywhere, and holds up nobody.
func (t *Tracker) Latest() (Sample, bool) { return t.shelf.get() }

// Watch takes one frame.
func (t *Tracker) Watch(f *loop.Frame) {
	s, d := &t.sample, &f.Decision
	dt := t.elapse(f.Tick.Now)
	s.Live, s.Batch = true, t.batch.Load()
	t.feel(f.Tick.Reading)
	t.heat(f.Tick.Applied, dt)
	t.await(d.Prompt, dt)
	t.guarded(f.Verdict)
	s.kettle.decision = *d
	s.kettle.ceiling = 0
	if under(d.Mode) {
		s.kettle.ceiling = f.State.Steps[d.Index].Ramp
	}
	t.steps(f, dt)
	t.behind(f)
	t.shelf.put(s)
}

// elapse is how long the last tick was. A clock that begins anew is no time.
func (t *Tracker) elapse(now time.Duration) time.Duration {
	dt := now - t.now
	if t.sample.Ticks == 0 || dt < 0 {
		dt = 0
	}
	t.now = now
	t.sample.Ticks++
	return dt
}

// feel notes the reading, and counts it if it failed: each once, and an old
// one when it becomes too old.
func (t *Tracker) feel(r sensors.Reading) {
	up, why := judge(r, t.now)
	t.sample.probe.up, t.sample.probe.value = up, r.Value
	if why != noFailure && (why != t.failed || r.Taken != t.taken) {
		t.sample.probe.failures[why]++
	}
	t.failed, t.taken = why, r.Taken
}

// heat counts what the element's line did in the last tick. A tick longer than
// the lease cannot have been all heat.
func (t *Tracker) heat(applied unit.Relay, dt time.Duration) {
	e := &t.sample.element
	if applied == unit.On {
		e.on += min(dt, loop.Lease)
		if e.applied != unit.On {
			e.closings++
		}
	}
	e.applied = applied
}

// await measures how long one question has stood.
func (t *Tracker) await(p controller.Prompt, dt time.Duration) {
	w := &t.sample.kettle.waiting
	if p == controller.NoPrompt || p != t.prompt {
		*w = 0
	} else {
		*w += dt
	}
	t.prompt = p
}

// guarded notes which rules take heat away.
func (t *Tracker) guarded(v interlock.Verdict) {
	s := &t.sample
	for r := interlock.NoRule + 1; int(r) < rules; r++ {
		s.cuts[r], s.trips[r] = v.Cut == r, v.Trip == r
		if t.Guard == nil {
			continue
		}
		switch t.Guard.Marks[r].State {
		case interlock.Cutting:
			s.cuts[r] = true
		case interlock.Tripped:
			s.trips[r] = true
		case interlock.Quiet:
		}
	}
}
