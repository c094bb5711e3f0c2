package controller_test

import (
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
)

func TestAWholeDayPassesThroughEveryStepAndEveryStage(t *testing.T) {
	x := started(t, sampleConfig())
	x.answers = true
	seen := map[controller.Stage]bool{}
	x.until(t, "complete", 12*time.Hour, func() bool {
		seen[x.d.Stage] = true
		return x.d.Mode.Ended()
	})
	if x.d.Mode != controller.Complete || x.d.Reason != controller.NoReason {
		t.Errorf("the day ends %v (%v)", x.d.Mode, x.d.Reason)
	}
	for s := controller.Heat; s <= controller.Cool; s++ {
		if !seen[s] {
			t.Errorf("stage %v never seen", s)
		}
	}
	if begun, ended := len(x.times(controller.StepStarted)), len(x.times(controller.StepEnded)); begun != 9 || ended != 9 {
		t.Errorf("%d steps begun, %d ended, want 9 each", begun, ended)
	}
	if x.d.Wanted == unit.On || x.d.Pump == unit.On || x.d.Armed {
		t.Error("heat, pump or arming outlive the batch")
	}
	x.answers = false
	x.off(t, "after the end", 10*minute, true)
}

func TestEachRestLastsAsLongAsItShouldAndEarnsJustThat(t *testing.T) {
	x := started(t, sampleConfig())
	x.answers = true
	x.until(t, "complete", 12*time.Hour, func() bool { return x.d.Mode.Ended() })
	want := map[uint8]time.Duration{1: 15 * minute, 2: 35 * minute, 3: 25 * minute, 4: 10 * minute, 6: 75 * minute, 7: 15 * minute}
	seen := 0
	for _, l := range x.log {
		if l.Kind != controller.StepEnded || want[l.Step] == 0 {
			continue
		}
		seen++
		near(t, "seconds earned in step "+string('0'+rune(l.Step)), l.Value, want[l.Step].Seconds(), 1)
	}
	if seen != len(want) {
		t.Errorf("%d timed steps ended, want %d", seen, len(want))
	}
}

func TestAdditionsAreCalledByMinutesLeftAndOnce(t *testing.T) {
	x := started(t, sampleConfig())
	x.answers = true
	x.until(t, "complete", 12*time.Hour, func() bool {
		for _, e := range x.d.Events[:x.d.Count] {
			if e.Kind == controller.AdditionDue {
				left := []time.Duration{60 * minute, 10 * minute, 5 * minute}[int(e.Value)]
				near(t, "minutes left when an addition is called", x.d.Left.Minutes(), left.Minutes(), 1.1/60)
			}
		}
		return x.d.Mode.Ended()
	})
	for i := range 3 {
		if n := x.count(controller.AdditionDue, float64(i)); n != 1 {
			t.Errorf("addition %d called %d times", i, n)
		}
	}
}

func TestManyAdditionsAtOneMinuteAreAllCalled(t *testing.T) {
	c := sampleConfig()
	for i := range profile.MaxAdditions {
		c.Additions[i] = 30 * minute
	}
	c.Steps[6].To = profile.MaxAdditions
	c.Steps[7].From, c.Steps[7].To = profile.MaxAdditions, profile.MaxAdditions
	x := along(t, c, profile.Boil, controller.Boil)
	dropped := 0
	x.until(t, "past the additions", 60*minute, func() bool {
		dropped += int(x.d.Dropped)
		return x.d.Left < 29*minute
	})
	for i := range profile.MaxAdditions {
		if n := x.count(controller.AdditionDue, float64(i)); n != 1 {
			t.Errorf("addition %d called %d times", i, n)
		}
	}
	if dropped != 0 {
		t.Errorf("%d events lost", dropped)
	}
}

func TestAShortenedBoilStillCallsWhatIsDue(t *testing.T) {
	x := along(t, sampleConfig(), profile.Boil, controller.Boil)
	x.order(controller.Command{Wish: controller.Extend, By: -70 * minute})
	x.run(5 * tick)
	for i, want := range []int{1, 1} {
		if n := x.count(controller.AdditionDue, float64(i)); n != want {
			t.Errorf("addition %d called %d times, want %d", i, n, want)
		}
	}
	x.order(controller.Command{Wish: controller.Extend, By: 70 * minute})
	x.run(70 * minute)
	if n := x.count(controller.AdditionDue, 0); n != 1 {
		t.Errorf("after a longer boil again, addition 0 was called %d times", n)
	}
}

func TestADayWithoutMashInBeginsWithItsFirstStep(t *testing.T) {
	c := sampleConfig()
	c.First, c.Count = 1, 3
	c.Steps[1] = controller.Step{Kind: profile.Rest, Target: 40, For: 10 * minute, Floor: 1}
	x := started(t, c)
	if x.d.Index != 1 || x.d.Kind != profile.Rest || x.d.Stage != controller.Heat {
		t.Errorf("begins at %s", x)
	}
	x.until(t, "complete", 3*time.Hour, func() bool { return x.d.Mode.Ended() })
	if len(x.times(controller.PromptRaised)) != 0 {
		t.Error("a day of water asks a question")
	}
}

func TestADayWithoutAPumpDoesNotWaitForOne(t *testing.T) {
	c := sampleConfig()
	c.HasPump = false
	x := started(t, c)
	x.answers = true
	x.until(t, "complete", 12*time.Hour, func() bool {
		if x.d.Pump == unit.On {
			t.Fatal("a pump that does not exist runs")
		}
		return x.d.Mode.Ended()
	})
	if n := len(x.times(controller.PumpStarts)); n != 0 {
		t.Errorf("%d warnings of a pump that does not exist", n)
	}
}

func TestFlameOutNeedsNobody(t *testing.T) {
	x := along(t, sampleConfig(), profile.Boil, controller.Boil)
	x.until(t, "the end of the boil", 80*minute, func() bool { return x.d.Kind != profile.Boil })
	if x.d.Kind != profile.Stand || x.d.Stage != controller.Connect {
		t.Errorf("after the boil: %s", x)
	}
	x.off(t, "waiting for the chiller", 30*minute, true)
}

func TestTheClockOfTheBatchRunsFromArmingOnAndStopsAtItsEnd(t *testing.T) {
	x := newDay(sampleConfig())
	x.run(10 * minute)
	if x.d.Clock != 0 {
		t.Errorf("clock %v before arming", x.d.Clock)
	}
	x.allow(t, controller.Start)
	x.run(5 * minute)
	near(t, "clock 5 min after arming in s", x.d.Clock.Seconds(), 300, 0.1)
	x.allow(t, controller.Pause)
	x.run(minute)
	x.allow(t, controller.Stop)
	x.run(minute)
	near(t, "clock after a pause and a hold in s", x.d.Clock.Seconds(), 422, 0.1)
	x.allow(t, controller.End)
	clock := x.d.Clock
	if x.run(minute); x.d.Clock != clock {
		t.Errorf("clock runs on after the end: %v, then %v", clock, x.d.Clock)
	}
}
