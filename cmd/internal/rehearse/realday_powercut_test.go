package rehearse

import (
	"testing"
	"time"

	"mashward/cmd/internal/learn"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/controller/verify"
	"mashward/profile"
	"mashward/sim/fault"
)

// Of a record a power cut leaves all but the last seconds: a sync is due every 4 s
// while time is earned.
const unsynced = 5

// kept is what a record holds of one tick.
type kept struct {
	state controller.State
	guard interlock.Guard
	watch verify.State
}

// outage is what a power cut of twelve minutes made of a rest.
type outage struct {
	lost     time.Duration // of the time earned
	fell     float64       // K that the mash fell until somebody came
	back     float64       // min from his word until the mash is in its rest again
	over     float64       // K over it afterwards
	earned   time.Duration // by the end of the rest, as the batch counts it
	within   float64       // min of the rest that the true mash was within 1 K, in all
	hot      bool          // heat or pump without a word
	offered  bool
	tripped  interlock.Rule
	needs    time.Duration
	finished bool
}

// cutPower plays the day to two fifths of its rest, cuts the power for twelve
// minutes, starts anew from what the record holds, and waits five minutes for a
// person's word.
func (b *brewDay) cutPower(rest int) (o outage) {
	step := b.run.Profile.Steps[rest-1]
	at := fault.Moment{OfStep: true, Step: rest, After: step.For * 2 / 5}
	if step.Kind == profile.MashIn {
		at.After += Settle
	}
	dark := struck(fault.PowerCut, at, 12*time.Minute)
	var last [unsynced]kept
	goal := 0.0
	inRest := func(s *scene, f *loop.Frame) {
		if f.Decision.Index == uint8(rest) && f.State.GrainIn && s.kettle.Mash() >= unit.Celsius(goal-1) {
			o.within += 1.0 / 60
		}
	}
	s := b.scene(fault.Script{dark}, func(s *scene, f *loop.Frame) {
		if goal == 0 && f.Decision.Index == uint8(rest) {
			goal = b.goal(s, rest)
		}
		last[f.Number%unsynced] = kept{*f.State, s.run.loop.Guard, *f.Watch}
		inRest(s, f)
	})
	s.until(func(*loop.Frame) bool { return false })
	before, mash := s.run.loop.State.Earned, float64(s.kettle.Mash())
	for s.kettle.PowerLost() {
		s.kettle.Next()
	}
	was := last[(s.run.loop.Latest().Number+1)%unsynced]
	b.goOn(s, was, dark.For, func(f *loop.Frame, said time.Duration) {
		d := &f.Decision
		now := float64(s.kettle.Mash())
		switch {
		case said == 0:
			o.offered = d.Mode == controller.Offered && d.Reason == controller.PowerCut
			o.hot = o.hot || f.Permitted == unit.On || d.Pump == unit.On || s.kettle.Plant().Truth().Power > 0
			o.lost, o.fell = before-d.Earned, mash-now
			return
		case d.Index != uint8(rest):
			return
		}
		inRest(s, f)
		if o.back == 0 && now >= goal-near {
			o.back = (f.Tick.Now - said).Minutes()
		}
		o.over = max(o.over, now-goal)
		o.earned = d.Earned
		if o.tripped == interlock.NoRule {
			o.tripped = f.Verdict.Trip
		}
	})
	end := s.run.loop.Latest().Decision
	o.needs, o.finished = step.For, end.Index > uint8(rest) && end.Mode == controller.Running
	return o
}

// goOn runs the batch on from what a record holds, with a person who comes after
// five minutes, states what stands in the kettle and goes on. each sees every
// frame, and when he said so.
func (b *brewDay) goOn(s *scene, was kept, away time.Duration, each func(f *loop.Frame, said time.Duration)) {
	l := &s.run.loop
	rest, begun, said := was.state.Index, s.kettle.Now(), time.Duration(0)
	l.State, l.Guard, l.Watch = was.state.Offer(away, true), was.guard.Restarted(), was.watch.Restarted()
	l.Element.(interface{ Rearm() }).Rearm()
	s.kettle.Bench.Pump().Rearm()
	s.run.learner = learn.New(l.Core.Config, false)
	s.run.person.next = controller.Command{}
	l.Watchers = []loop.Watcher{s.run.learner, watching(func(f *loop.Frame) {
		each(f, said)
		if said == 0 && f.Tick.Now-begun >= 5*time.Minute {
			said = f.Tick.Now
			s.run.person.next = controller.Command{Wish: controller.TakeUp, Volume: s.kettle.Plant().Truth().Level}
		}
	})}
	l.Run(func(f *loop.Frame) bool {
		return f.Decision.Index > rest || f.Decision.Mode.Ended() || f.Tick.Now-begun > 6*time.Hour
	})
}

// TestAllPowerOffForTwelveMinutesInARest: nothing heats or pumps at the start,
// the batch is offered, and it goes on by a person's word. At most 5 s of the time
// earned are lost, the rest gets all of its time, and the mash comes back to it
// without going over.
func TestAllPowerOffForTwelveMinutesInARest(t *testing.T) {
	lost := figure{what: "all power off for 12 min: earned time lost, s", limit: 5}
	fell := figure{what: "the mash has fallen when somebody comes, 5 min later, K", limit: 5}
	back := figure{what: "from his word to the rest's temperature, min", limit: 45}
	over := figure{what: "over it afterwards, K", limit: 0.4}
	short := figure{what: "the rest is short of its time, s", limit: 1}
	cold := figure{what: "true minutes within 1 K of the rest, short of it by", limit: 2}
	for _, b := range brewDays(t) {
		rest := max(b.step(profile.Rest), 1)
		o := b.cutPower(rest)
		if o.hot || !o.offered || o.tripped != interlock.NoRule || !o.finished {
			t.Errorf("%s: heat or pump without a word %v, offered %v, trip %v, the rest ended %v", b.name, o.hot, o.offered, o.tripped, o.finished)
		}
		lost.take(o.lost.Seconds(), b)
		fell.take(o.fell, b)
		back.take(o.back, b)
		short.take((o.needs - o.earned).Seconds(), b)
		cold.take(o.needs.Minutes()-o.within, b)
		if b.run.Plan.Kettle.Pump {
			over.take(o.over, b)
		}
	}
	for _, f := range []*figure{&lost, &fell, &back, &over, &short, &cold} {
		f.judge(t, 0)
	}
}
