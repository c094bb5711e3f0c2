package controller_test

import (
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
)

func TestThePumpRunsWhereItShouldAndNowhereElse(t *testing.T) {
	type rig struct {
		name   string
		inBoil bool
		place  controller.Place
		runs   map[controller.Stage]bool // in lift heating, boil, stand and chill
	}
	always := map[controller.Stage]bool{
		controller.Drain: true, controller.Climb: true, controller.Door: true,
		controller.Break: true, controller.Boil: true, controller.Connect: true, controller.Cool: true,
	}
	for _, r := range []rig{
		{"off in the boil", false, controller.Outlet, nil},
		{"scalded in the boil", true, controller.Outlet, map[controller.Stage]bool{controller.Connect: true, controller.Cool: true}},
		{"probe in the return", true, controller.Return, always},
	} {
		c := sampleConfig()
		c.InBoil, c.Place = r.inBoil, r.place
		x := started(t, c)
		x.answers = true
		stage, in := x.d.Stage, time.Duration(0)
		x.until(t, "complete", 12*time.Hour, func() bool {
			if x.d.Stage != stage {
				stage, in = x.d.Stage, 0
			}
			if in += tick; in <= 2*controller.PumpWarning || x.d.Mode.Ended() {
				return x.d.Mode.Ended() // it may still be warning
			}
			want := r.runs[x.d.Stage]
			switch x.d.Kind {
			case profile.Strike, profile.Rest, profile.MashOut:
				want = true
			case profile.MashIn:
				want = stage == controller.Mix || stage == controller.Count
			case profile.Lift:
				want = want || stage == controller.Ready
			case profile.Stand:
				want = want || stage == controller.Count && r.inBoil
			case profile.Boil:
				scald := x.d.Left <= controller.ScaldLoop-2*controller.PumpWarning
				if r.inBoil && stage == controller.Boil && x.d.Left <= controller.ScaldLoop && !scald {
					return false // about to start
				}
				want = want || r.inBoil && stage == controller.Boil && scald
			}
			if (x.d.Pump == unit.On) != want {
				t.Fatalf("%s: pump %v, want running %v; left %v; %s", r.name, x.d.Pump, want, x.d.Left, x)
			}
			return false
		})
	}
}

func TestThePumpWarnsFiveSecondsBeforeEachStart(t *testing.T) {
	c := sampleConfig()
	c.InBoil = true
	x := started(t, c)
	x.answers = true
	warned, starts, was := time.Duration(-1), 0, unit.Off
	x.until(t, "complete", 12*time.Hour, func() bool {
		for _, e := range x.d.Events[:x.d.Count] {
			if e.Kind == controller.PumpStarts {
				warned = x.now
			}
		}
		if x.d.Pump == unit.On && was == unit.Off {
			starts++
			if warned < 0 || x.now-warned < controller.PumpWarning {
				t.Fatalf("the pump starts %v after its warning; %s", x.now-warned, x)
			}
			warned = -1
		}
		was = x.d.Pump
		return x.d.Mode.Ended()
	})
	if starts < 3 {
		t.Errorf("the pump started %d times", starts)
	}
}

func TestPumpOffStopsItAtOnceAndKeepsItOffUntilItIsFreed(t *testing.T) {
	x := resting(t)
	x.allow(t, controller.PumpOff)
	if x.d.Pump == unit.On {
		t.Error("the pump runs in the tick of the press")
	}
	for range 600 {
		if x.tick().Pump == unit.On {
			t.Fatal("the pump starts by itself after it was stopped by hand")
		}
	}
	x.allow(t, controller.PumpOn)
	for range 4 {
		if x.tick().Pump == unit.On {
			t.Fatal("no warning")
		}
	}
	x.until(t, "pumping", 10*tick, func() bool { return x.d.Pump == unit.On })
}

func TestAPumpOffInItsWarningDoesNotStart(t *testing.T) {
	x := started(t, sampleConfig())
	x.run(2 * tick)
	x.allow(t, controller.PumpOff)
	x.run(minute)
	if len(x.times(controller.PumpRuns)) != 0 {
		t.Error("the pump ran although it was stopped in its warning")
	}
}

func TestRestingTheBedIsThreeMinutesWithoutHeatAndPump(t *testing.T) {
	x := resting(t)
	x.k.at = 62.5 // so that it would heat
	x.allow(t, controller.RestBed)
	at := x.now
	x.off(t, "resting the bed", controller.BedRest-2*tick, true)
	x.until(t, "pumping", minute, func() bool { return x.d.Pump == unit.On })
	near(t, "from the press to the pump in s", (x.now - at).Seconds(), 180+5, 2)
	x.off(t, "the bed and the wort outside it mix", controller.MixTime-2*tick, false)
	x.heats(t, "after the bed has rested", minute)
}

// A kettle whose pump stood is not one temperature: what the probe shows first is
// that of the hose, or of the wort outside the bed. No heat-up begins from it. It
// takes half as long to mix as it stood, up to three minutes.
func TestNoHeatBeforeTheKettleHasMixedAgain(t *testing.T) {
	for _, place := range []controller.Place{controller.Outlet, controller.Bed, controller.Return} {
		for stood, mixes := range map[time.Duration]time.Duration{60 * tick: 30*tick + controller.PumpWarning/2, 10 * minute: 3 * minute} {
			c := sampleConfig()
			c.Place, c.InBoil = place, true
			x := along(t, c, profile.Rest, controller.Count)
			x.allow(t, controller.PumpOff)
			x.run(stood)
			x.allow(t, controller.PumpOn)
			x.k.at = float64(x.d.Target) - 0.5 // so that it would heat
			x.until(t, "pumping", minute, func() bool { return x.d.Pump == unit.On })
			x.off(t, "mixing", mixes-2*tick, false)
			x.heats(t, "mixed", 10*tick)
		}
	}
}

func TestABedThatRestsWhenTheBatchIsPausedDoesNotRestForEver(t *testing.T) {
	x := resting(t)
	x.allow(t, controller.RestBed)
	x.allow(t, controller.Pause)
	x.run(5 * minute)
	if x.d.Pump != unit.On {
		t.Error("the pump stays off for the whole pause")
	}
	x.heats(t, "paused, the bed has rested", 10*minute)
}

func TestAProbeInTheReturnNeverHeatsWithThePumpOff(t *testing.T) {
	c := sampleConfig()
	c.Place, c.InBoil = controller.Return, true
	x := started(t, c)
	x.answers = true
	random := seeded(11)
	heated := 0
	x.until(t, "complete", 24*time.Hour, func() bool {
		if x.d.Wanted == unit.On && x.d.Pump == unit.Off {
			t.Fatalf("heat with a blind probe; %s", x)
		}
		heated += int(x.d.Wanted)
		if x.command.Wish == controller.NoWish && random.IntN(600) == 0 {
			x.command.Wish = [...]controller.Wish{controller.PumpOff, controller.PumpOn, controller.PumpOn, controller.RestBed}[random.IntN(4)]
		}
		return x.d.Mode.Ended()
	})
	if heated < 3600 {
		t.Errorf("only %d s of heat in the whole day", heated)
	}
}

// TestAPumpThatStoodThroughAGapIsWarnedOfAgain: while the process was stopped its
// lease ran out. Whoever has opened a hose meanwhile hears of it first.
func TestAPumpThatStoodThroughAGapIsWarnedOfAgain(t *testing.T) {
	x := started(t, sampleConfig())
	x.until(t, "the pump runs", time.Minute, func() bool { return x.d.Pump == unit.On })
	x.now += time.Minute
	x.tick()
	if x.d.Pump == unit.On {
		t.Fatal("it runs in the first tick after a minute without one")
	}
	since := x.now
	x.until(t, "the pump runs again", time.Minute, func() bool { return x.d.Pump == unit.On })
	if warned := x.now - since; warned < controller.PumpWarning || warned > controller.PumpWarning+2*tick {
		t.Errorf("it runs %v after the gap; want %v", warned, controller.PumpWarning)
	}
}
