package controller_test

import (
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
)

// pouredIn presses both and pours grain that leaves the mash off its target by
// miss kelvin, then waits for the first mixed reading.
func pouredIn(t *testing.T, miss float64) *day {
	t.Helper()
	x := along(t, sampleConfig(), profile.Strike, controller.Ready).run(5 * minute)
	x.allow(t, controller.PouringNow)
	x.off(t, "pouring", 4*minute, true)
	x.k.mix(grainLoad, 18)
	x.k.at, x.k.probe, x.k.loss = 44+miss, 44+miss, 0 // and loses nothing until it is judged
	x.allow(t, controller.GrainIn)
	return x
}

func TestMashInGoesFromPourThroughSettlingAndMixingToItsClock(t *testing.T) {
	x := pouredIn(t, 0)
	if !x.in(profile.MashIn, controller.Settle) || x.d.Phase != controller.Settling {
		t.Fatalf("%s", x)
	}
	in := x.now
	x.until(t, "mixing", 10*minute, func() bool {
		if x.d.Wanted == unit.On || x.d.Pump == unit.On {
			t.Fatalf("heat %v, pump %v while the bed settles", x.d.Wanted, x.d.Pump)
		}
		return x.d.Stage == controller.Mix
	})
	near(t, "settling in s", (x.now - in).Seconds(), 300, 2)
	x.until(t, "counting", 5*minute, func() bool {
		counting := x.d.Stage == controller.Count
		if x.d.Wanted == unit.On && !counting {
			t.Fatal("heat before the wort is mixed")
		}
		return counting
	})
	near(t, "mixing in s, the pump's warning included", (x.now-in).Seconds()-300, 95, 3)
	if x.d.Pump != unit.On {
		t.Error("the reading is judged with the pump off")
	}
	near(t, "earned when the clock begins in s", x.d.Earned.Seconds(), (x.now - in).Seconds(), 1.5)
}

func TestSettlingCountsOnlyWhenTheFirstMixedReadingIsWithinAKelvin(t *testing.T) {
	for miss, counts := range map[float64]bool{-3: false, -1.3: false, -0.6: true, 0: true, 0.8: true, 1.3: false, 4: false} {
		x := pouredIn(t, miss)
		x.to(t, profile.MashIn, controller.Count)
		if got := x.d.Earned > 0; got != counts || len(x.times(controller.CountedBack)) == 1 != counts {
			t.Errorf("landed %+.1f K off: earned %v", miss, x.d.Earned)
		}
	}
}

func TestAMashThatLandedColdIsHeatedBeforeItsClockRuns(t *testing.T) {
	x := pouredIn(t, -3)
	x.to(t, profile.MashIn, controller.Count)
	x.heats(t, "mash 3 K too cold", minute)
	x.until(t, "earning", 30*minute, func() bool { return x.d.Earned > 0 })
	if !x.d.Reached || x.k.at < 44-0.35 || x.d.Phase != controller.Resting {
		t.Errorf("the clock began at %.2f °C, reached %v; %s", x.k.at, x.d.Reached, x)
	}
	x.until(t, "the next step", 20*minute, func() bool { return x.d.Kind == profile.Rest })
}

func TestGrainWithoutAPressStopsHeatAndPumpWithinHalfAMinuteAndAsks(t *testing.T) {
	for _, stage := range []controller.Stage{controller.Heat, controller.Ready} {
		x := along(t, sampleConfig(), profile.Strike, stage)
		if stage == controller.Heat {
			x.until(t, "nearly there", time.Hour, func() bool { return x.d.Reached })
		} else {
			x.run(10 * minute)
		}
		if x.d.Pump != unit.On {
			t.Fatal("the pump does not run in the strike")
		}
		x.k.mix(grainLoad, 18)
		x.run(30 * tick)
		if x.d.Prompt != controller.AskDidGrainGo {
			t.Fatalf("%v: 30 s after the pour: prompt %v; %s", stage, x.d.Prompt, x)
		}
		x.off(t, "asked whether grain went in", 5*minute, true)
		if len(x.times(controller.GrainSuspected)) != 1 {
			t.Errorf("suspected %d times", len(x.times(controller.GrainSuspected)))
		}
	}
}

func TestAQuietStrikeIsNeverTakenForAPour(t *testing.T) {
	x := along(t, sampleConfig(), profile.Strike, controller.Ready)
	x.random, x.k.noise = seeded(1), 0.05
	x.until(t, "given up", 3*time.Hour, func() bool { return x.d.Mode.Ended() })
	if len(x.times(controller.GrainSuspected)) != 0 {
		t.Error("noise is taken for grain")
	}
}

func TestYesSixMinutesLaterGoesOnSinceThePour(t *testing.T) {
	x := poured(t)
	asked := x.now
	x.off(t, "not answered yet", 6*minute, true)
	x.allow(t, controller.GrainIn)
	if !x.in(profile.MashIn, controller.Mix) {
		t.Fatalf("%s", x)
	}
	x.to(t, profile.MashIn, controller.Count)
	// The bed has settled for its five minutes already: only the mixing is left.
	near(t, "from the question to the clock in s", (x.now - asked).Seconds(), 360+96, 4)
	near(t, "counted back in s", x.d.Earned.Seconds(), (x.now - asked).Seconds(), 2)
}

func TestNoGoesOnHeatingTheStrike(t *testing.T) {
	x := poured(t)
	x.k.load = waterLoad
	x.run(2 * minute)
	x.allow(t, controller.NoGrain)
	if x.d.Kind != profile.Strike || x.s.GrainIn || x.s.AskedGrain {
		t.Fatalf("%s", x)
	}
	x.heats(t, "after no", 30*tick)
	x.run(2 * minute)
	if x.d.Prompt == controller.AskDidGrainGo {
		t.Error("the same fall is asked about twice")
	}
	if x.d.Pump != unit.On {
		t.Error("the pump stays off after no")
	}
}

func TestAGapWhileTheBedSettlesIsNotCountedBack(t *testing.T) {
	x := pouredIn(t, 0)
	x.run(minute)
	x.step(x.input(2 * time.Hour))
	x.until(t, "counting", 10*minute, func() bool { return x.d.Stage == controller.Count })
	near(t, "counted back in s, of settling that was watched", x.d.Earned.Seconds(), 300+96, 4)
}

func TestAPauseWhileTheBedSettlesIsNotCountedBack(t *testing.T) {
	x := pouredIn(t, 0)
	x.run(minute)
	x.allow(t, controller.Pause)
	x.off(t, "paused while the bed settles", 20*minute, true)
	x.allow(t, controller.Resume)
	x.to(t, profile.MashIn, controller.Count)
	if x.d.Earned > 8*minute {
		t.Errorf("earned %v although the clock stood for 20 min", x.d.Earned)
	}
}

func TestGrainInWithoutPouringNowAsksNoQuestionBetween(t *testing.T) {
	x := along(t, sampleConfig(), profile.Strike, controller.Ready)
	x.log = nil
	x.allow(t, controller.GrainIn)
	if n := len(x.times(controller.PromptRaised)); n != 0 || !x.in(profile.MashIn, controller.Settle) {
		t.Errorf("%d questions; %s", n, x)
	}
	if n := x.count(controller.StageChanged, float64(controller.Pour)); n != 0 {
		t.Error("it says that grain is being poured")
	}
}

func TestSteppingBackToTheMashInPoursNothingAgain(t *testing.T) {
	x := along(t, sampleConfig(), profile.Rest, controller.Heat)
	x.log = nil
	x.allow(t, controller.StepBack)
	if !x.in(profile.MashIn, controller.Count) || x.count(controller.PromptRaised, float64(controller.AskGrainIn)) != 0 {
		t.Errorf("%s, log %v", x, x.log)
	}
}
