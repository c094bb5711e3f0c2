package controller_test

import (
	"testing"
	"time"

	"mashward/controller"
	"mashward/profile"
)

// resting is a day in its rest at 63 °C, steady, on a kettle whose temperature
// the test sets by hand.
func resting(t testing.TB) *day {
	t.Helper()
	x := along(t, sampleConfig(), profile.Rest, controller.Count)
	x.until(t, "steady", 20*minute, func() bool { return x.s.Law.Way == controller.Holding })
	return x
}

// pin keeps the kettle at a temperature for a while.
func (x *day) pin(at float64, d time.Duration) *day {
	for end := x.now + d; x.now < end; {
		x.k.at, x.k.probe = at, at
		x.tick()
	}
	return x
}

func TestTheClockBeginsAtTargetLess03(t *testing.T) {
	x := along(t, sampleConfig(), profile.Rest, controller.Heat)
	x.until(t, "counting", time.Hour, func() bool { return x.d.Stage == controller.Count })
	if x.k.at < 63-0.31 {
		t.Errorf("the clock began at %.2f °C", x.k.at)
	}
}

func TestTheClockCountsAboveTheFloorAndNotBelowIt(t *testing.T) {
	for _, c := range []struct {
		at     float64
		counts bool
	}{{58, false}, {61.9, false}, {62.1, true}, {63, true}, {63.4, true}, {64, true}, {70, true}} {
		x := resting(t).pin(c.at, minute)
		earned := x.d.Earned
		x.pin(c.at, minute)
		if got := (x.d.Earned - earned).Seconds(); got != map[bool]float64{true: 60, false: 0}[c.counts] {
			t.Errorf("at %v °C a minute earned %v s", c.at, got)
		}
	}
}

func TestAFloorOfTheProfileIsTheFloor(t *testing.T) {
	x := resting(t)
	x.s.Steps[x.s.Index].Floor = 3
	x.pin(60.2, minute)
	earned := x.d.Earned
	if x.pin(60.2, minute); x.d.Earned-earned != minute {
		t.Errorf("2.8 K below the target earned %v with a floor of 3 K", x.d.Earned-earned)
	}
	if x.pin(59.8, minute).d.Earned >= earned+2*minute {
		t.Error("3.2 K below the target counts with a floor of 3 K")
	}
}

func TestTooHotByHalfAKelvinIsSaidAndEndsWithoutChatter(t *testing.T) {
	x := resting(t)
	if x.d.Alarms[controller.AlarmHot] {
		t.Error("too hot at the target")
	}
	if x.pin(63.45, minute).d.Alarms[controller.AlarmHot] {
		t.Error("too hot at target + 0.45 K")
	}
	if !x.pin(63.6, minute).d.Alarms[controller.AlarmHot] {
		t.Error("not too hot at target + 0.6 K")
	}
	x.random, x.k.noise, x.log = seeded(4), 0.05, nil
	x.pin(63.5, 10*minute)
	if n := x.count(controller.AlarmRaised, float64(controller.AlarmHot)); n > 1 {
		t.Errorf("at the edge the alarm was raised %d times in ten minutes", n)
	}
	if x.pin(63.1, minute).d.Alarms[controller.AlarmHot] {
		t.Error("still too hot at target + 0.1 K")
	}
}

func TestAClockThatStoodStillForTenMinutesInAllAsks(t *testing.T) {
	x := resting(t)
	for stood := time.Duration(0); stood < 9*minute; stood += 3 * minute {
		x.pin(61, 3*minute)
		x.pin(63, minute)
	}
	if stood := x.s.StoodStill; stood < 8*minute || stood >= 10*minute || x.d.Prompt != controller.NoPrompt {
		t.Fatalf("stood still for %v, prompt %v", stood, x.d.Prompt)
	}
	x.pin(61, 4*minute)
	if x.d.Prompt != controller.AskCold || !x.d.Alarms[controller.AlarmCold] {
		t.Fatalf("stood still for %v in all: prompt %v, alarms %v", x.s.StoodStill, x.d.Prompt, x.d.Alarms)
	}
	earned, stood := x.d.Earned, x.s.StoodStill
	x.allow(t, controller.GoOn)
	if got := x.d.Earned - earned; got < stood || got > stood+tick {
		t.Errorf("'go on' counted %v, it had stood still for %v", got, stood)
	}
	if x.d.Prompt != controller.NoPrompt || x.d.Alarms[controller.AlarmCold] {
		t.Errorf("after 'go on': prompt %v, alarms %v", x.d.Prompt, x.d.Alarms)
	}
}

func TestNothingIsEarnedWithoutAReading(t *testing.T) {
	x := resting(t)
	x.mute = true
	x.run(10 * tick)
	earned := x.d.Earned
	x.off(t, "no reading", 30*minute, false)
	if x.d.Earned != earned || !x.d.Alarms[controller.AlarmUnreadable] || x.d.HasEstimate {
		t.Errorf("earned %v blind, alarms %v, estimate %v", x.d.Earned-earned, x.d.Alarms, x.d.HasEstimate)
	}
	x.mute = false
	x.heats(t, "the reading is back", 5*minute)
}

func TestAGapBetweenTicksIsSaidAndEarnsNothing(t *testing.T) {
	for _, gap := range []time.Duration{3100 * time.Millisecond, 10 * tick, minute, 3 * time.Hour} {
		for _, x := range []*day{resting(t), along(t, sampleConfig(), profile.Boil, controller.Boil)} {
			before := x.d.Earned
			x.log = nil
			x.step(x.input(gap))
			if x.d.Earned != before || len(x.times(controller.TimeGap)) != 1 {
				t.Errorf("%v: a gap of %v earned %v and was said %d times", x.d.Kind, gap, x.d.Earned-before, len(x.times(controller.TimeGap)))
			}
		}
	}
	x := resting(t)
	before := x.d.Earned
	if x.step(x.input(3 * tick)); x.d.Earned != before+3*tick {
		t.Errorf("a tick of 3 s earned %v", x.d.Earned-before)
	}
}

func TestAGapDoesNotSpoilTheHeatUpAfterIt(t *testing.T) {
	plain := along(t, sampleConfig(), profile.Rest, controller.Heat).run(5 * minute)
	gone := plain.from()
	// The loop is away for an hour; the lease has ended the heat after 3 s.
	gone.step(gone.input(time.Hour))
	if gone.s.Law.Gain != plain.s.Law.Gain {
		t.Errorf("gain %v after the gap", gone.s.Law.Gain)
	}
	hottest := 0.0
	for range 3000 {
		gone.tick()
		if gone.d.Index == 2 {
			hottest = max(hottest, gone.k.at)
		}
	}
	if hottest > 63.3 || gone.s.Law.Gain < 0.9 || gone.s.Law.Gain > 1.1 {
		t.Errorf("heated to %.2f °C after a gap, gain %v", hottest, gone.s.Law.Gain)
	}
}

func TestASilenceOfSecondsInAHeatUpDoesNotOvershoot(t *testing.T) {
	x := along(t, sampleConfig(), profile.Rest, controller.Heat)
	x.k.lag = 60 // a slow probe: the reading is 1.5 K behind
	x.run(9 * minute)
	for range 4 {
		x.mute = true
		x.run(12 * tick)
		x.mute = false
		x.run(minute)
	}
	hottest := 0.0
	for x.d.Index == 2 {
		x.tick()
		hottest = max(hottest, x.k.at)
	}
	if hottest > 63.5 {
		t.Errorf("after a probe that was silent for seconds the mash came to %.2f °C", hottest)
	}
}

func TestHeatThatIsWithheldDoesNotWindUpTheLoop(t *testing.T) {
	for _, why := range []string{"a cut", "the line"} {
		x := resting(t)
		before := x.s.Law.PID.Integral
		for range 1200 {
			x.k.at, x.k.probe = 62.2, 62.2
			x.inhibited = true
			in := x.input(tick)
			in.Inhibited = why == "a cut"
			x.step(in)
		}
		if after := x.s.Law.PID.Integral; after > before {
			t.Errorf("withheld by %s: the integral rose from %.3f to %.3f", why, before, after)
		}
	}
}

func TestTimeThatStandsOrGoesBackDoesNothing(t *testing.T) {
	for situation, before := range situations(t) {
		for _, back := range []time.Duration{0, tick, time.Hour} {
			x := before.from()
			still := x.input(0)
			still.Now -= back
			s, d := x.core.Step(x.s, still)
			if d.Wanted != 0 {
				t.Errorf("%s: heat in a tick of %v", situation, -back)
			}
			if s.Clock != x.s.Clock || s.Earned != x.s.Earned || s.InStage != x.s.InStage || s.Stage != x.s.Stage ||
				s.Mode != x.s.Mode || s.Last != x.s.Last || s.StoodStill != x.s.StoodStill || s.HereFor != x.s.HereFor {
				t.Errorf("%s: a tick of %v has moved the batch", situation, -back)
			}
		}
	}
}

func TestStopIsHeardEvenWhenTimeStands(t *testing.T) {
	x := resting(t)
	x.command = command(controller.Stop)
	x.step(x.input(0))
	if x.d.Mode != controller.Held || x.d.Wanted != 0 || x.d.Pump != 0 {
		t.Errorf("%s", x)
	}
}

// A probe that hung in air for 40 s, and what was read of it, are no reason to heat
// afterwards; nor with a late tick on top, after which the law begins anew.
func TestAProbeThatHungInAirLeavesTheMashAsItWas(t *testing.T) {
	for _, late := range []bool{false, true} {
		x := resting(t)
		hottest, from := 0.0, x.now
		for x.now < from+15*minute && x.d.Index == 2 {
			since := x.now - from
			if since < 40*time.Second {
				x.k.probe += (18 - x.k.probe) / x.k.lag
			}
			x.inhibited = since >= 5*time.Second && since < 90*time.Second // until it reads the mash again
			if late && since == 45*time.Second {
				x.step(x.input(2 * controller.GapLimit))
			}
			x.tick()
			hottest = max(hottest, x.k.at)
		}
		if hottest > 63.5 {
			t.Errorf("late tick %v: the mash came to %.2f °C", late, hottest)
		}
	}
}

// While heat is withheld, the inside of a bed and its outside come nearer: a rise
// measured over that is none of the power's. The slope is trusted again only when
// they have run beside each other for as long as at first.
func TestAHeatUpThatWasInterruptedIsMeasuredAnew(t *testing.T) {
	c := sampleConfig()
	c.Power = 1500 // a heat-up long enough to be measured twice
	x := along(t, c, profile.Rest, controller.Heat)
	x.k.power = 1500
	x.until(t, "measuring", time.Hour, func() bool { return x.s.Law.Marked })
	first := x.s.Law.InWay
	x.inhibited = true
	x.run(minute)
	x.inhibited = false
	since := x.now
	x.until(t, "measuring again", time.Hour, func() bool { return x.s.Law.Marked })
	if again := x.now - since; again < first-tick {
		t.Errorf("measured again after %v, at first after %v", again, first)
	}
}
