package controller_test

import (
	"math"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
)

func TestNobodyWaitsForever(t *testing.T) {
	for _, c := range []struct {
		kind       profile.Kind
		stage      controller.Stage
		alarm, end time.Duration // 0: it waits cold and may wait on
	}{
		{profile.Strike, controller.Ready, 30 * minute, 2 * time.Hour},
		{profile.MashIn, controller.Pour, 30 * minute, 0},
		{profile.Lift, controller.Ready, time.Hour, 3 * time.Hour},
		{profile.Lift, controller.Hoist, 30 * minute, 0},
		{profile.Lift, controller.Drain, time.Hour, 3 * time.Hour},
		{profile.Boil, controller.Door, time.Hour, 3 * time.Hour},
		{profile.Chill, controller.Connect, 30 * minute, 0},
	} {
		x := along(t, sampleConfig(), c.kind, c.stage)
		since := x.now
		x.until(t, "alarm", 4*time.Hour, func() bool { return x.d.Alarms[controller.AlarmWaiting] })
		near(t, c.kind.String()+" "+c.stage.String()+": minutes to the alarm", (x.now - since).Minutes(), c.alarm.Minutes(), 0.05)
		if c.end == 0 {
			x.off(t, c.kind.String()+" "+c.stage.String(), 4*time.Hour-30*minute, true)
			if x.d.Mode != controller.Running {
				t.Errorf("%s", x)
			}
			continue
		}
		x.until(t, "given up", 4*time.Hour, func() bool { return x.d.Mode.Ended() })
		near(t, c.kind.String()+" "+c.stage.String()+": minutes to the end", (x.now - since).Minutes(), c.end.Minutes(), 0.05)
		if x.d.Mode != controller.Aborted || x.d.Reason != controller.NobodyCame {
			t.Errorf("%s", x)
		}
		x.off(t, "given up", 10*minute, true)
	}
}

func TestAPauseStopsTheClockAndKeepsTheTemperature(t *testing.T) {
	x := resting(t)
	earned, target := x.d.Earned, x.d.Target
	x.allow(t, controller.Pause)
	low, high := x.k.at, x.k.at
	for range 3600 {
		x.tick()
		low, high = min(low, x.k.at), max(high, x.k.at)
	}
	if x.d.Earned != earned || x.d.Mode != controller.Paused || x.d.Reason != controller.ByOperator {
		t.Errorf("earned %v in the pause; %s", x.d.Earned-earned, x)
	}
	if low < float64(target)-0.3 || high > float64(target)+0.3 {
		t.Errorf("between %.2f and %.2f °C in a pause at %v °C", low, high, target)
	}
	x.allow(t, controller.Resume)
	x.run(9 * tick)
	near(t, "earned 10 s after going on in s", (x.d.Earned - earned).Seconds(), 10, 1)
}

func TestStopIsHeldAndCanBeGoneOnFrom(t *testing.T) {
	x := resting(t)
	earned := x.d.Earned
	x.allow(t, controller.Stop)
	x.off(t, "held", 20*minute, true)
	if x.d.Mode != controller.Held || x.d.Armed || x.d.Earned != earned {
		t.Errorf("%s, armed %v", x, x.d.Armed)
	}
	x.allow(t, controller.Resume)
	x.heats(t, "resumed", 30*tick)
	x.until(t, "the end of the rest", 2*time.Hour, func() bool { return x.d.Index != 2 })
	x.answers = true
	x.until(t, "complete", 12*time.Hour, func() bool { return x.d.Mode.Ended() })
	if x.d.Mode != controller.Complete {
		t.Errorf("%s", x)
	}
}

func TestAfterAHoldThePumpWarnsBeforeItRuns(t *testing.T) {
	x := resting(t)
	x.allow(t, controller.Stop)
	x.run(minute)
	x.allow(t, controller.Resume)
	for range 4 {
		if x.tick().Pump == unit.On {
			t.Fatal("the pump starts without its warning")
		}
	}
	x.run(2 * tick)
	if x.d.Pump != unit.On {
		t.Error("the pump does not come back")
	}
}

func TestASkipGoesToTheNextStepAndCanBeTakenBackFor15Seconds(t *testing.T) {
	for after, want := range map[int]controller.Refusal{
		1: controller.NotRefused, 10: controller.NotRefused, 14: controller.NotRefused,
		16: controller.TooLate, 100: controller.TooLate,
	} {
		x := resting(t).run(3 * minute)
		before := x.s
		x.allow(t, controller.Skip)
		if x.d.Index != 3 || x.d.Earned != 0 {
			t.Fatalf("%s", x)
		}
		x.run(time.Duration(after-1) * tick)
		x.refuse(t, command(controller.UndoSkip), want)
		if want != controller.NotRefused {
			continue
		}
		if x.d.Index != 2 || x.d.Stage != before.Stage || x.s.Earned < before.Earned || x.s.Earned > before.Earned+2*tick {
			t.Errorf("taken back after %d s: %s, had earned %v", after, x, before.Earned)
		}
		x.refuse(t, command(controller.UndoSkip), controller.TooLate)
	}
}

func TestAPauseDoesNotStretchTheTimeToTakeASkipBack(t *testing.T) {
	for _, idle := range []controller.Wish{controller.Pause, controller.Stop} {
		x := resting(t)
		x.allow(t, controller.Skip)
		x.allow(t, idle)
		x.run(minute)
		x.allow(t, controller.Resume)
		x.refuse(t, command(controller.UndoSkip), controller.TooLate)
	}
}

func TestASkipTakenBackGoesOnCoolingWhereItDid(t *testing.T) {
	c := sampleConfig()
	c.Steps[2].Target, c.Steps[3].Target = 66, 63 // the second rest begins too hot
	x := along(t, c, profile.Rest, controller.Count)
	x.answers = true
	x.until(t, "cooling", 2*time.Hour, func() bool { return x.d.Index == 3 && x.d.Phase == controller.Cooling })
	x.run(minute)
	x.allow(t, controller.Skip)
	x.run(5 * tick)
	x.allow(t, controller.UndoSkip)
	x.run(5 * tick)
	if x.d.Index != 3 || x.d.Phase != controller.Cooling || x.d.Reached {
		t.Errorf("phase %v, reached %v at %.1f °C; %s", x.d.Phase, x.d.Reached, x.k.at, x)
	}
	x.until(t, "there", 4*time.Hour, func() bool { return x.d.Reached })
	near(t, "reached from above at °C", x.k.at, 63.3, 0.1)
}

func TestWhatWasDoneToTheMashCannotBeSkippedBackOver(t *testing.T) {
	c := sampleConfig()
	c.Steps[4].Target = 71 // so that the lift is at hand at once
	x := along(t, c, profile.MashOut, controller.Count)
	x.allow(t, controller.Skip)
	x.allow(t, controller.LiftingNow)
	x.refuse(t, command(controller.UndoSkip), controller.TooLate)
}

func TestStepBackRepeatsTheRestBefore(t *testing.T) {
	x := along(t, sampleConfig(), profile.MashOut, controller.Count)
	x.allow(t, controller.StepBack)
	if x.d.Index != 3 || x.d.Earned != 0 || x.d.Phase != controller.Cooling {
		t.Errorf("%s, phase %v", x, x.d.Phase)
	}
	x.until(t, "repeated", 6*time.Hour, func() bool { return x.d.Kind == profile.MashOut })
	ended := 0.0
	for _, l := range x.log {
		if l.Kind == controller.StepEnded && l.Step == 3 {
			ended = l.Value
		}
	}
	near(t, "seconds earned in the repeated rest", ended, 25*60, 1)
}

func TestStepBackStopsAtTheFirstStep(t *testing.T) {
	c := sampleConfig()
	c.First, c.Count = 1, 4
	c.Steps[1] = controller.Step{Kind: profile.Rest, Target: 30, For: 10 * minute, Floor: 1}
	x := started(t, c)
	x.refuse(t, command(controller.StepBack), controller.NothingBefore)
}

func TestExtendHasItsLimits(t *testing.T) {
	x := resting(t).run(10 * minute)
	earned := x.d.Earned
	for by, want := range map[time.Duration]controller.Refusal{
		0: controller.NeedsFigure, 7 * time.Hour: controller.NeedsFigure, -7 * time.Hour: controller.NeedsFigure,
		math.MaxInt64: controller.NeedsFigure, math.MinInt64: controller.NeedsFigure, 5*time.Hour + 30*minute: controller.NeedsFigure,
		-35 * minute: controller.TooShort, -36 * minute: controller.TooShort, earned - 35*minute: controller.TooShort,
		5 * time.Hour: controller.NotRefused, 20 * minute: controller.NotRefused, -20 * minute: controller.NotRefused,
	} {
		y := x.from()
		left := y.d.Left
		y.refuse(t, controller.Command{Wish: controller.Extend, By: by}, want)
		change := y.d.Left - left + tick // the tick of the press has been earned
		if want == controller.NotRefused && change != by || want != controller.NotRefused && change != 0 {
			t.Errorf("longer by %v: left changed by %v", by, change)
		}
	}
}

func TestARestExtendedLastsThatMuchLonger(t *testing.T) {
	x := resting(t)
	x.order(controller.Command{Wish: controller.Extend, By: 12 * minute})
	x.until(t, "the next rest", 3*time.Hour, func() bool { return x.d.Index == 3 })
	for _, l := range x.log {
		if l.Kind == controller.StepEnded && l.Step == 2 {
			near(t, "minutes earned", l.Value/60, 47, 0.05)
		}
	}
	if x.core.Config.Steps[2].For != 35*minute {
		t.Error("the profile itself was changed")
	}
}
