package ahead_test

import (
	"errors"
	"math"
	"slices"
	"testing"
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/cmd/internal/rehearse"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/enzyme"
	"mashward/sim/kettles"
)

// instantOf runs a day up to the first frame that is wanted.
func instantOf(t testing.TB, of func(kettles.Kettle) profile.Profile, wanted func(*loop.Frame) bool) *ahead.Instant {
	t.Helper()
	b, err := prepare(3, of)
	if err != nil {
		t.Fatal(err)
	}
	var out *ahead.Instant
	b.run.Watchers = append(b.run.Watchers, watcher(func(f *loop.Frame) {
		if out == nil && wanted(f) {
			out = &ahead.Instant{Day: &b.day, State: *f.State, Limit: rehearse.Limits(b.run.Profile, b.plan).MashCeiling}
			if f.State.GrainIn && !f.State.Lifted {
				out.Mash = enzyme.MashIn(f.Decision.Estimate)
			}
		}
	}))
	if _, err := b.run.Go(); err != nil || out == nil {
		t.Fatal(err, out)
	}
	return out
}

type watcher func(*loop.Frame)

func (w watcher) Watch(f *loop.Frame) { w(f) }

// inSecondRest is a quarter of an hour into the rest at 63 °C.
func inSecondRest(f *loop.Frame) bool {
	return f.Decision.Index == 2 && f.Decision.Earned >= 15*time.Minute
}

func ids(all []ahead.Risk) (out []string) {
	for _, r := range all {
		out = append(out, r.ID)
	}
	return out
}

// What each change does to the finish, worked out beside it; and the batch, as far as
// it is in the instant, has not changed.
func TestWhatAChangeWouldDoToTheDay(t *testing.T) {
	at := instantOf(t, wholeDay, inSecondRest)
	before := at.State
	c := &at.Day.Config
	// The 6 K from 71 to 77 °C are made up for later, with less in the kettle.
	lighter := float64(c.LoadMash-c.LoadWort) * 6 / (float64(c.Power) - float64(c.Loss)*float64(74-c.Room))
	for name, row := range map[string]struct {
		c     controller.Command
		later time.Duration
		near  time.Duration
		risks []string
	}{
		"longer":       {controller.Command{Wish: controller.Extend, By: 7 * time.Minute}, 7 * time.Minute, time.Second, nil},
		"later longer": {controller.Command{Wish: controller.Extend, By: 7 * time.Minute, Step: 3}, 7 * time.Minute, time.Second, nil},
		"shorter":      {controller.Command{Wish: controller.Extend, By: -5 * time.Minute}, -5 * time.Minute, time.Second, nil},
		"skip":         {controller.Command{Wish: controller.Skip}, -10 * time.Minute, 15 * time.Second, nil},
		// The way up to 71 °C is shorter by what is heated now.
		"hotter":       {controller.Command{Wish: controller.Retarget, At: 66}, 0, 90 * time.Second, nil},
		"later hotter": {controller.Command{Wish: controller.Retarget, At: 73, Step: 3}, 0, 30 * time.Second, nil},
		"no mash-out":  {controller.Command{Wish: controller.Retarget, At: 71, Step: 4}, -time.Duration(lighter * float64(time.Second)), time.Minute, nil},
		"warm water":   {controller.Command{Wish: controller.Added, Volume: 1, At: 63}, 0, 8 * time.Minute, nil},
		"long boil":    {controller.Command{Wish: controller.Extend, By: 5 * time.Hour, Step: 6}, 5 * time.Hour, time.Minute, nil},
	} {
		out, err := at.WhatIf(row.c)
		if err != nil || out.Refused != controller.NotRefused {
			t.Errorf("%s: %v, %v", name, err, out.Refused)
			continue
		}
		if off := out.Later - row.later; off > row.near || off < -row.near {
			t.Errorf("%s: %v later, want %v within %v", name, out.Later, row.later, row.near)
		}
		orderly(t, &out.After)
		if got := ids(out.Risks); !slices.Equal(got, row.risks) {
			t.Errorf("%s: risks %q", name, out.Risks)
		}
		if out.MashBefore == nil || out.MashAfter == nil {
			t.Errorf("%s: nothing is said of the enzymes", name)
		}
	}
	if at.State != before {
		t.Error("the instant was changed")
	}
}

// What is risked is said; what the controller would refuse is its refusal.
func TestWhatAChangeWouldRisk(t *testing.T) {
	at := instantOf(t, wholeDay, inSecondRest)
	room := float64(at.Day.Config.Capacity) - float64(at.Day.Config.Water+at.Day.Config.Displaced)
	ask := func(c controller.Command) ahead.Outlook {
		t.Helper()
		out, err := at.WhatIf(c)
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	cold := ask(controller.Command{Wish: controller.Added, Volume: unit.Litres(0.4 * room), At: 12})
	if !slices.Contains(ids(cold.Risks), "cold") || cold.Later < time.Minute {
		t.Errorf("cold water: %v later, %q", cold.Later, cold.Risks)
	}
	if full := ask(controller.Command{Wish: controller.Added, Volume: unit.Litres(0.85 * room), At: 63}); !slices.Contains(ids(full.Risks), "brim") {
		t.Errorf("nearly full: %v, %q", full.Refused, full.Risks)
	}
	if over := ask(controller.Command{Wish: controller.Added, Volume: unit.Litres(1.1 * room), At: 63}); over.Refused != controller.Overfull {
		t.Errorf("too much: %v", over.Refused)
	}
	if hot := ask(controller.Command{Wish: controller.Retarget, At: 78}); hot.Refused != controller.HotterThanArmed {
		t.Errorf("too hot: %v", hot.Refused)
	}
	if past := ask(controller.Command{Wish: controller.Retarget, At: 60, Step: 1}); past.Refused != controller.WrongStage {
		t.Errorf("behind: %v", past.Refused)
	}
	at.Limit = 79 // a rig that says less than the mash-out and 5 K
	if near := ask(controller.Command{Wish: controller.Retarget, At: 76.9, Step: 3}); !slices.Contains(ids(near.Risks), "limit") {
		t.Errorf("close to the limit: %q", near.Risks)
	}
	at.Limit = 82
	// A tenth an hour boils off: after five hours more of it less than half is left.
	at.Day.Config.CoveredAt = at.Day.Config.AfterLift / 2
	if dry := ask(controller.Command{Wish: controller.Extend, By: 5 * time.Hour, Step: 6}); !slices.Equal(ids(dry.Risks), []string{"level"}) {
		t.Errorf("a long boil: %q", dry.Risks)
	}
	// Common practice, no source: beta-amylase does not last at 72 °C.
	hotter := ask(controller.Command{Wish: controller.Retarget, At: 72})
	if !(hotter.MashAfter.Sugar.Mid < hotter.MashBefore.Sugar.Mid-0.01) {
		t.Errorf("a hotter rest makes as much sugar: %v, %v", hotter.MashBefore.Sugar, hotter.MashAfter.Sugar)
	}
	if _, err := at.WhatIf(controller.Command{Wish: controller.Stop}); !errors.Is(err, ahead.ErrNotAChange) {
		t.Error(err)
	}
	at.State.Mode = controller.Stopped
	if _, err := at.WhatIf(controller.Command{Wish: controller.Skip}); !errors.Is(err, ahead.ErrNotRunning) {
		t.Error(err)
	}
}

// A boil that is skipped has additions that are not called any more, and a last step
// that is skipped is the end.
func TestWhatASkipLeavesOut(t *testing.T) {
	at := instantOf(t, wholeDay, func(f *loop.Frame) bool {
		return f.Decision.Stage == controller.Boil && f.Decision.Earned > 5*time.Minute
	})
	out, err := at.WhatIf(controller.Command{Wish: controller.Skip})
	if err != nil || !slices.Equal(ids(out.Risks), []string{"missed"}) {
		t.Errorf("%v, %q", err, out.Risks)
	}
	last := instantOf(t, rehearse.FourRests, func(f *loop.Frame) bool { return f.Decision.Index == 4 && f.Decision.Reached })
	if out, err = last.WhatIf(controller.Command{Wish: controller.Skip}); err != nil || len(out.After.Steps) > 0 || out.After.Finish.At != last.State.Clock {
		t.Errorf("%v, %+v", err, out.After)
	}
}

// The change that was foreseen is the one that comes: the finish of a day in which it
// was really made.
func TestAChangeThatIsMadeComesOutAsForeseen(t *testing.T) {
	for _, c := range []controller.Command{
		{Wish: controller.Extend, By: 12 * time.Minute},
		{Wish: controller.Retarget, At: 66},
		{Wish: controller.Retarget, At: 68, Step: 3},
		{Wish: controller.Skip},
	} {
		b, err := prepare(3, rehearse.FourRests)
		if err != nil {
			t.Fatal(err)
		}
		var said ahead.Outlook
		var last time.Duration
		b.run.Watchers = append(b.run.Watchers, watcher(func(f *loop.Frame) { last = f.Decision.Clock }))
		b.run.Tells = func(f *loop.Frame) controller.Command {
			if said.After.Finish.At > 0 || !inSecondRest(f) {
				return controller.Command{}
			}
			said, err = (&ahead.Instant{Day: &b.day, State: *f.State}).WhatIf(c)
			return c
		}
		if r, err2 := b.run.Go(); err != nil || err2 != nil || r.Outcome != "complete" {
			t.Fatal(err, err2, r.Outcome)
		}
		f := said.After.Finish
		if off := math.Abs((last - f.At).Seconds()); last < f.Early || last > f.Late || off > 120 {
			t.Errorf("%v: done at %v, and %v (%v to %v) was foreseen", c, last, f.At, f.Early, f.Late)
		}
	}
}

// BenchmarkWhatIf is one question in the middle of a mash: two forecasts, the enzymes
// along both, and the controller's own answer. Method: one process, one core, the
// same instant again and again; ns/op is the whole answer.
func BenchmarkWhatIf(b *testing.B) {
	at := instantOf(b, wholeDay, inSecondRest)
	c := controller.Command{Wish: controller.Retarget, At: 66}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := at.WhatIf(c); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkForecast is one forecast at the start of a day.
func BenchmarkForecast(b *testing.B) {
	at := instantOf(b, wholeDay, func(f *loop.Frame) bool { return f.Decision.Clock > time.Minute })
	b.ReportAllocs()
	for b.Loop() {
		if _, ok := at.Day.From(&at.State); !ok {
			b.Fatal("none")
		}
	}
}
