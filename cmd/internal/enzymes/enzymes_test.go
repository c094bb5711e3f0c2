package enzymes

import (
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/record"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/enzyme"
)

// bench feeds a follower, a tick a second, as a loop and as a record would.
type bench struct {
	frames, ticks Follower
	now           time.Duration
	at            second
}

// minutes goes on as it stands, at a temperature.
func (b *bench) minutes(n int, t unit.Celsius) {
	for range n * 60 {
		b.now += time.Second
		b.tick(t, true)
	}
}

func (b *bench) tick(t unit.Celsius, good bool) {
	s := &b.at
	f := loop.Frame{Tick: controller.Tick{Now: b.now}, Decision: controller.Decision{
		Mode: s.mode, Index: s.index, Kind: s.kind, Stage: s.stage, Target: s.target, HasTarget: s.hasTarget, Estimate: t, HasEstimate: good,
	}}
	b.frames.Watch(&f)
	b.ticks.Tick(&record.Tick{
		In: f.Tick, Mode: s.mode, Index: s.index, Kind: s.kind, Stage: s.stage, Target: s.target, HasTarget: s.hasTarget, Estimate: t, HasEstimate: good,
	})
}

// step is where a batch stands from now on.
func (b *bench) step(index uint8, kind profile.Kind, stage controller.Stage, target unit.Celsius) {
	b.at = second{mode: controller.Running, index: index, kind: kind, stage: stage, target: target, hasTarget: true}
}

// mash is a batch up to a rest at 63 °C that runs. While the bed settles the probe
// reads the strike water.
func mash() *bench {
	b := &bench{}
	b.step(0, profile.Strike, controller.Heat, 66)
	b.minutes(2, 66)
	b.step(1, profile.MashIn, controller.Pour, 63)
	b.minutes(3, 66)
	b.at.stage = controller.Settle
	b.minutes(4, 66)
	b.at.stage = controller.Mix
	b.minutes(1, 65)
	b.at.stage = controller.Count
	return b
}

func left(t *testing.T, c *enzyme.Course) enzyme.Estimate {
	t.Helper()
	e, known := c.State().Estimate()
	if !known {
		t.Fatal("not known")
	}
	return e
}

func TestFramesAndTicksTellTheSame(t *testing.T) {
	b := mash()
	b.minutes(20, 63)
	b.step(2, profile.Rest, controller.Heat, 72)
	b.minutes(20, 72)
	if b.frames.Course.State() != b.ticks.Course.State() || len(b.frames.Course.Rests()) != 1 {
		t.Errorf("%+v\n%+v", b.frames.Course.State(), b.ticks.Course.State())
	}
}

// What the probe reads before the bed is mixed is not the mash; the minutes count.
func TestTheBedIsTakenToHaveBeenAsItIsWhenItIsMixed(t *testing.T) {
	b := mash()
	b.minutes(20, 63)
	want := enzyme.MashIn(63)
	for range 25 * 60 {
		want = want.After(time.Second, 63)
	}
	e, _ := want.Estimate()
	got := left(t, &b.frames.Course)
	if d := float64(got.BetaLeft.Mid - e.BetaLeft.Mid); d > 1e-6 || d < -1e-6 {
		t.Errorf("%.6f of the beta-amylase left after 25 min at 63 °C, not %.6f", got.BetaLeft.Mid, e.BetaLeft.Mid)
	}
	b.step(2, profile.Rest, controller.Heat, 72)
	b.minutes(1, 63)
	if r := b.frames.Course.Of(1); r == nil || r.Cost != nil {
		t.Errorf("the rest at its target: %+v", r)
	}
}

func TestAnOvershootIsToldWithItsCost(t *testing.T) {
	b := mash()
	b.minutes(5, 63)
	b.minutes(5, 65)
	b.minutes(5, 63)
	b.step(2, profile.Rest, controller.Heat, 72)
	b.minutes(1, 63)
	r := b.frames.Course.Of(1)
	if r == nil || r.Cost == nil || r.Cost.Above != 2 || r.Cost.Beta.Low < 0.02 {
		t.Errorf("5 min 2 K too hot: %+v", r)
	}
}

func TestAMissingReadingIsBridgedAndALongOneNot(t *testing.T) {
	for gap, known := range map[time.Duration]bool{2 * time.Minute: true, 15 * time.Minute: false} {
		b := mash()
		b.minutes(5, 63)
		for end := b.now + gap; b.now < end; {
			b.now += time.Second
			b.tick(0, false)
		}
		b.minutes(1, 63)
		if got := b.frames.Course.State().Known(); got != known {
			t.Errorf("%v without a reading: known %v", gap, got)
		}
	}
}

func TestAfterARestartNothingIsKnown(t *testing.T) {
	b := mash()
	b.minutes(5, 63)
	b.now = 0
	b.minutes(5, 63)
	for _, f := range []*Follower{&b.frames, &b.ticks} {
		if r := f.Course.Report(); r == nil || r.AtEnd != nil {
			t.Errorf("%+v", r)
		}
	}
}

func TestItEndsWhenTheGrainComesOut(t *testing.T) {
	b := mash()
	b.minutes(20, 63)
	b.step(2, profile.Lift, controller.Ready, 63)
	b.minutes(5, 63)
	before := left(t, &b.frames.Course)
	b.step(2, profile.Lift, controller.Hoist, 0)
	b.minutes(5, 63)
	b.step(3, profile.Boil, controller.Climb, 99)
	b.minutes(20, 90)
	if after := left(t, &b.frames.Course); after != before || b.frames.Course.Mashing() {
		t.Errorf("%+v, before the lift %+v", after, before)
	}
}

func TestWaterAndAPourThatWasNoneHaveNoEnzymes(t *testing.T) {
	water := &bench{}
	water.step(1, profile.Rest, controller.Heat, 62)
	water.minutes(30, 62)
	back := mash()
	back.minutes(1, 63)
	back.step(0, profile.Strike, controller.Heat, 66)
	back.minutes(1, 66)
	for name, b := range map[string]*bench{"water": water, "no grain": back} {
		if b.frames.Course.Report() != nil {
			t.Errorf("%s: %+v", name, b.frames.Course.Report())
		}
	}
}
