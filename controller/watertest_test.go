package controller_test

import (
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
)

// trial is a water test that has just been started.
func trial(t testing.TB) *day {
	t.Helper()
	c := sampleConfig()
	c.Test, c.Count = controller.DefaultTest(), 1
	x := newDay(c)
	x.tick()
	return x.allow(t, controller.Start)
}

func TestAWaterTestHeatsOnlyInItsPushAndIsThenComplete(t *testing.T) {
	x := trial(t)
	seen := map[controller.Stage]bool{}
	hottest, start := 0.0, x.k.at
	x.until(t, "complete", 2*time.Hour, func() bool {
		seen[x.d.Stage] = true
		hottest = max(hottest, x.k.at)
		if x.d.Wanted == unit.On && x.d.Stage != controller.Push {
			t.Fatalf("heat in %v", x.d.Stage)
		}
		return x.d.Mode.Ended()
	})
	if x.d.Mode != controller.Complete || !seen[controller.Still] || !seen[controller.Push] || !seen[controller.Quiet] {
		t.Errorf("%s, stages %v", x, seen)
	}
	near(t, "rise of the water in K", hottest-start, 8, 0.7)
	if x.d.Pump == unit.On {
		t.Error("the pump outlives the test")
	}
}

func TestAWaterTestThatDoesNotWarmIsHeldAfterFiveMinutes(t *testing.T) {
	x := trial(t)
	x.k.power = 0
	x.until(t, "pushing", 20*minute, func() bool { return x.d.Stage == controller.Push })
	since := x.now
	x.until(t, "held", time.Hour, func() bool { return x.d.Mode == controller.Held })
	near(t, "minutes of heat into nothing", (x.now - since).Minutes(), 5, 0.1)
	if x.d.Reason != controller.NotHeating {
		t.Errorf("%s", x)
	}
	x.refuse(t, command(controller.Resume), controller.InTest)
	x.off(t, "held", 10*minute, true)
	x.allow(t, controller.End)
}

func TestAWaterTestInWaterThatDoesNotRestHeatsNothing(t *testing.T) {
	x := trial(t)
	for x.d.Mode == controller.Running {
		x.k.at += 0.3 / 60 // something else warms it
		if x.tick().Wanted == unit.On {
			t.Fatalf("heat into water that does not rest: %s", x)
		}
	}
	if x.d.Mode != controller.Stopped || x.d.Reason != controller.Restless {
		t.Errorf("%s", x)
	}
}

func TestAWaterTestTakesNoWishButItsEnd(t *testing.T) {
	pushing := trial(t)
	pushing.until(t, "pushing", 20*minute, func() bool { return pushing.d.Stage == controller.Push })
	want := map[controller.Wish]controller.Refusal{
		controller.Stop: controller.NotRefused, controller.End: controller.NotRefused,
		controller.ClearTrip: controller.NotRefused, controller.Start: controller.AlreadyStarted,
	}
	for _, w := range wishes {
		why, known := want[w]
		if !known {
			why = controller.InTest
		}
		x := pushing.from()
		if got := x.order(command(w)); got != why {
			t.Errorf("%v answered with %q, want %q", w, got, why)
		}
		if (w == controller.Stop || w == controller.End) && (x.d.Wanted == unit.On || x.d.Pump == unit.On) {
			t.Errorf("%v: heat %v, pump %v in its tick", w, x.d.Wanted, x.d.Pump)
		}
	}
}

func TestAWaterTestHeatsNothingUnderATripOrWithoutAReading(t *testing.T) {
	x := trial(t)
	x.until(t, "pushing", 20*minute, func() bool { return x.d.Stage == controller.Push })
	y := x.from()
	y.trip = controller.HeatingWhileOff
	y.off(t, "under a trip", 10*minute, true)
	if y.d.Mode != controller.Held {
		t.Errorf("%s", y)
	}
	x.mute = true
	x.run(6 * tick)
	x.off(t, "without a reading", 10*minute, false)
}
