// Package enzymes follows the enzymes of a batch by the estimated temperature of
// its mash: by the frames of a loop, or by the ticks of its record. It is beside
// the loop, decides nothing, and keeps nothing in the core's state.
package enzymes

import (
	"time"

	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/record"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/enzyme"
)

// Follower follows one batch. The zero value is ready. It is a loop.Watcher.
type Follower struct {
	Course  enzyme.Course
	NoGrain bool // a water brew: there is nothing to follow

	now     time.Duration // run clock of the last tick
	unseen  time.Duration // time with grain that is not in the course yet
	step    uint8
	resting bool
	ticked  bool // blocks of a record: there was a tick
}

// Watch takes one frame. It waits for nobody and allocates only where a rest ends.
func (f *Follower) Watch(fr *loop.Frame) {
	d := &fr.Decision
	f.second(fr.Tick.Now, &second{d.Mode, d.Index, d.Kind, d.Stage, d.Target, d.HasTarget, d.Estimate, d.HasEstimate})
}

// Tick takes one tick of a record.
func (f *Follower) Tick(t *record.Tick) {
	f.second(t.In.Now, &second{t.Mode, t.Index, t.Kind, t.Stage, t.Target, t.HasTarget, t.Estimate, t.HasEstimate})
}

// Restarted says that nobody knows how long nobody looked: the run clock has begun
// anew.
func (f *Follower) Restarted() {
	f.Course.Lose()
	f.now, f.unseen = 0, 0
}

// Block takes a block of a record.
func (f *Follower) Block(b *record.Block) {
	switch b.Kind {
	case record.KindTick:
		f.Tick(&b.Tick)
		f.ticked = true
	case record.KindStart:
		if f.ticked {
			f.Restarted()
		}
	case record.KindHead, record.KindCheckpoint, record.KindGap, record.KindNote, record.KindForecast, record.KindEnd:
	}
}

// Ended is the course where no more of the record comes.
func (f *Follower) Ended() *enzyme.Course {
	f.Course.Leave()
	return &f.Course
}

// NoGrain tells of a batch whose mash is as its water, as in a water brew.
func NoGrain(c *controller.Config) bool { return c.LoadWater > 0 && c.LoadMash <= c.LoadWater }

// second is what one tick tells of the mash.
type second struct {
	mode        controller.Mode
	index       uint8
	kind        profile.Kind
	stage       controller.Stage
	target      unit.Celsius
	hasTarget   bool
	estimate    unit.Celsius
	hasEstimate bool
}

func (f *Follower) second(now time.Duration, s *second) {
	if f.NoGrain {
		return
	}
	gap := now - f.now
	f.now = now
	if gap < 0 {
		f.Restarted()
		f.now, gap = now, 0
	}
	switch {
	case s.mode == controller.Idle:
	case s.mode.Ended():
		f.out()
	case s.kind == profile.Strike:
		if f.Course.Mashing() { // no grain went in after all
			*f = Follower{now: now}
		}
	case s.kind == profile.MashIn && s.stage == controller.Pour:
		f.unseen = 0
	case s.kind == profile.MashIn && (s.stage == controller.Settle || s.stage == controller.Mix):
		f.unseen += gap // what the probe reads there is not the mash
	case s.kind == profile.MashIn, s.kind == profile.Rest, s.kind == profile.MashOut:
		f.rest(gap, s)
	case s.kind == profile.Lift && s.stage == controller.Ready:
		f.wait(gap, s)
	default:
		f.out()
	}
}

// rest goes on in a rest, or begins it. A mash is taken to have been since it was
// poured as it is when it is first read.
func (f *Follower) rest(gap time.Duration, s *second) {
	if !s.hasEstimate || !s.hasTarget {
		f.unseen += gap
		return
	}
	mashIn := s.kind == profile.MashIn
	if !f.Course.Mashing() && mashIn && !f.resting {
		f.Course.Begin(s.estimate)
	}
	if !f.resting || f.step != s.index {
		f.Course.Rest(int(s.index), s.target, mashIn)
		f.resting, f.step = true, s.index
	}
	f.Course.Step(gap+f.unseen, s.estimate, s.target)
	f.unseen = 0
}

// wait goes on while the grain is in and waits to come out.
func (f *Follower) wait(gap time.Duration, s *second) {
	if f.resting {
		f.Course.Leave()
		f.resting = false
	}
	if !s.hasEstimate {
		f.unseen += gap
		return
	}
	f.Course.Step(gap+f.unseen, s.estimate, s.estimate)
	f.unseen = 0
}

// out ends the mash.
func (f *Follower) out() {
	f.resting, f.unseen = false, 0
	if f.Course.Mashing() {
		f.Course.End()
	}
}
