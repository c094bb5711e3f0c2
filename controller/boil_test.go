package controller_test

import (
	"math"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
)

// climbing is a day that has just begun to heat to the boil, on a kettle that
// boils at truly where the core believes in believed.
func climbing(t testing.TB, believed, truly float64) *day {
	t.Helper()
	c := sampleConfig()
	c.Boiling = unit.Celsius(believed)
	x := along(t, c, profile.Boil, controller.Climb)
	x.k.boils = truly
	return x
}

// Boiling points by altitude: ISO 2533 atmosphere and IAPWS R7-97 saturation.
func TestTheBoilCountsFromItsPlateauAtEveryAltitude(t *testing.T) {
	for altitude, bp := range map[int]float64{0: 99.97, 340: 98.84, 1000: 96.65, 1600: 94.65, 2240: 92.51, 3640: 87.83} {
		for _, off := range []float64{-2, -1, 0, 1} { // probe and weather
			x := climbing(t, bp, bp+off)
			x.answers = true
			x.until(t, "boiling", 3*time.Hour, func() bool { return x.d.Stage == controller.Boil })
			if x.k.at < x.k.boils-0.05 {
				t.Errorf("%d m, %+.0f K off: the clock began at %.2f °C, it boils at %.2f °C", altitude, off, x.k.at, x.k.boils)
			}
			if !x.d.Reached || len(x.times(controller.ClockBegan)) == 0 {
				t.Errorf("%d m: clock without a plateau", altitude)
			}
		}
	}
}

func TestABoilIsSeenThroughTheNoiseOfTheProbe(t *testing.T) {
	for seed := range uint64(10) {
		x := climbing(t, boiling, boiling)
		x.random, x.k.noise = seeded(seed), 0.05
		x.answers = true
		boils := time.Duration(0)
		x.until(t, "boiling", 2*time.Hour, func() bool {
			if boils == 0 && x.k.at >= x.k.boils {
				boils = x.now
			}
			return x.d.Stage == controller.Boil
		})
		late := (x.now - boils - x.d.Earned).Seconds()
		if boils == 0 || math.Abs(late) > 120 {
			t.Errorf("seed %d: the clock is %.0f s beside the true boil", seed, late)
		}
	}
}

func TestAPlateauTooFarBelowTheBoilIsSaidAndDoesNotStartTheClock(t *testing.T) {
	x := climbing(t, boiling, boiling-3) // reaches the door, and no further
	x.answers = true
	x.until(t, "said", 2*time.Hour, func() bool { return x.d.Alarms[controller.AlarmNoBoil] })
	x.run(30 * minute)
	if x.d.Stage != controller.Break || x.d.Earned != 0 || !x.d.Alarms[controller.AlarmNoBoil] {
		t.Errorf("%s, alarms %v", x, x.d.Alarms)
	}
	if x.s.Law.Way != controller.NoHeat || x.d.Duty != 1 {
		t.Errorf("stalled below the boil at duty %v, want full power", x.d.Duty)
	}
	x.allow(t, controller.ItBoils)
	if x.d.Stage != controller.Boil || x.d.Alarms[controller.AlarmNoBoil] {
		t.Errorf("after 'it boils': %s, alarms %v", x, x.d.Alarms)
	}
	x.run(minute)
	near(t, "earned a minute later in s", x.d.Earned.Seconds(), 61, 1.5)
}

func TestAKettleThatStallsOnTheClimbIsSaid(t *testing.T) {
	x := climbing(t, boiling, boiling)
	x.k.power = 900 // stalls far below: 900 W against the loss of an open lid
	x.k.loss = 14
	x.until(t, "said", 6*time.Hour, func() bool { return x.d.Alarms[controller.AlarmNoBoil] })
	if x.d.Stage != controller.Climb || x.k.at > boiling-4 {
		t.Errorf("%s", x)
	}
}

func TestAHealthyClimbNeverSaysThatItCannotBoil(t *testing.T) {
	for _, factor := range []float64{0.75, 1, 1.25} { // of the declared load
		x := climbing(t, boiling, boiling)
		x.k.load *= factor
		x.random, x.k.noise = seeded(3), 0.05
		x.answers = true
		x.until(t, "boiling", 4*time.Hour, func() bool {
			if x.d.Alarms[controller.AlarmNoBoil] {
				t.Fatalf("load %v of the declared: no boil said; %s", factor, x)
			}
			return x.d.Stage == controller.Boil
		})
	}
}

func TestWithheldHeatNeverLooksLikeABoil(t *testing.T) {
	for _, loss := range []float64{0, 2, 7} {
		x := climbing(t, boiling, boiling)
		x.answers = true
		x.until(t, "in the break, near the boil", 2*time.Hour, func() bool {
			return x.d.Stage == controller.Break && x.k.at > boiling-2
		})
		x.inhibited, x.k.loss = true, loss
		for range 900 {
			if x.tick(); x.d.Stage == controller.Boil {
				t.Fatalf("loss %v W/K: the boil's clock starts without heat; %s", loss, x)
			}
		}
		x.inhibited, x.k.loss = false, 7
		x.until(t, "boiling", 2*time.Hour, func() bool { return x.d.Stage == controller.Boil })
		if x.k.at < boiling-0.05 {
			t.Errorf("loss %v W/K: the clock began at %.2f °C", loss, x.k.at)
		}
	}
}

func TestWortThatCoolsUnderHeatDoesNotBoil(t *testing.T) {
	x := climbing(t, boiling, boiling)
	x.answers = true
	x.until(t, "in the break, near the boil", 2*time.Hour, func() bool {
		return x.d.Stage == controller.Break && x.k.at > boiling-0.5
	})
	for x.k.at > boiling-2.4 { // a thin stream of cold water: 0.4 K/min in spite of the heat
		x.k.at -= 0.4/60 + 3000*0.8/x.k.load - x.k.loss*80/x.k.load
		if x.tick(); x.d.Stage == controller.Boil {
			t.Fatalf("falling, and yet it boils; %s", x)
		}
	}
}

func TestAGapDoesNotMakeAPlateau(t *testing.T) {
	x := climbing(t, boiling, boiling)
	x.answers = true
	x.until(t, "in the break, near the boil", 2*time.Hour, func() bool {
		return x.d.Stage == controller.Break && x.k.at > boiling-2
	})
	for range 5 {
		x.step(x.input(10 * minute))
		if x.d.Stage == controller.Boil {
			t.Fatal("ten minutes in which nothing was seen start the boil's clock")
		}
	}
}

func TestADipByTheChillerNeitherStopsNorRestartsTheClock(t *testing.T) {
	x := along(t, sampleConfig(), profile.Boil, controller.Boil).run(50 * minute)
	began := len(x.times(controller.ClockBegan))
	earned, at := x.d.Earned, x.now
	x.allow(t, controller.ChillerIn) // hung in cold to be scalded, its water still off
	if x.s.ChillerOn || !x.d.Hung {
		t.Errorf("hung in: its water runs %v, hung %v", x.s.ChillerOn, x.d.Hung)
	}
	x.k.mix(2e3, 15)
	x.k.at -= 6
	x.run(10 * minute)
	if x.d.Stage != controller.Boil || len(x.times(controller.ClockBegan)) != began {
		t.Errorf("%s", x)
	}
	near(t, "earned over the dip in s", (x.d.Earned - earned).Seconds(), (x.now - at).Seconds(), 0.5)
}

func TestTheBoilWaitsThreeKelvinBelowForSomebodyWithTheLidOff(t *testing.T) {
	x := climbing(t, boiling, boiling)
	x.to(t, profile.Boil, controller.Door)
	if x.d.Prompt != controller.AskHereLidOff || x.d.Phase != controller.Waiting {
		t.Errorf("prompt %v, phase %v", x.d.Prompt, x.d.Phase)
	}
	hottest := 0.0
	for range 3000 {
		x.tick()
		hottest = max(hottest, x.k.at)
	}
	near(t, "wort that waits at the door in °C", x.k.at, boiling-3, 0.3)
	if hottest > boiling-2.4 {
		t.Errorf("with nobody there it came to %.2f °C", hottest)
	}
	x.allow(t, controller.HereLidOff)
	x.run(2 * tick)
	if x.d.Stage != controller.Break {
		t.Errorf("%s", x)
	}
}

func TestIAmHereStandsFor15MinutesAndNoLonger(t *testing.T) {
	for early, goes := range map[time.Duration]bool{14 * minute: true, 16 * minute: false} {
		for _, idle := range []controller.Wish{controller.NoWish, controller.Pause, controller.Stop} {
			x := climbing(t, boiling, boiling)
			x.to(t, profile.Boil, controller.Door)
			// The press comes before the door: on the climb, with the reading far below.
			x.k.offset = -10
			x.run(minute)
			x.s.Stage = controller.Climb
			x.allow(t, controller.HereLidOff)
			pressed := x.now
			if idle != controller.NoWish {
				x.allow(t, idle)
			}
			x.until(t, "just before", time.Hour, func() bool { return x.now >= pressed+early-30*tick })
			if idle != controller.NoWish {
				x.allow(t, controller.Resume)
			}
			x.k.offset, x.k.at, x.k.probe = 0, boiling-2.5, boiling-2.5
			x.run(30 * tick)
			if went := x.d.Stage == controller.Break; went != goes {
				t.Errorf("%v after the press, meanwhile %q: into the break %v, want %v; %s", early, idle, went, goes, x)
			}
		}
	}
}

func TestTheBreakIsGoneThroughGently(t *testing.T) {
	c := sampleConfig()
	c.Steps[6].Duty = 0.5
	x := along(t, c, profile.Boil, controller.Break)
	x.answers = true
	x.until(t, "boiling", time.Hour, func() bool {
		if x.d.Stage == controller.Break && x.d.Duty > controller.GentleDuty {
			t.Fatalf("duty %v in the break", x.d.Duty)
		}
		return x.d.Stage == controller.Boil
	})
	x.run(tick)
	if x.d.Duty != 0.5 {
		t.Errorf("boils at duty %v, want the step's", x.d.Duty)
	}
}
