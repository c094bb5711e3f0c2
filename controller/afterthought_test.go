package controller_test

import (
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
)

// A pause is no way round the limits for persons: the alarm after half an hour,
// heat and pump off after two.
func TestAPauseThatNobodyEndsIsHeldAfterTwoHours(t *testing.T) {
	x := along(t, sampleConfig(), profile.Rest, controller.Count)
	x.allow(t, controller.Pause)
	x.until(t, "the alarm", 31*minute, func() bool { return x.d.Alarms[controller.AlarmWaiting] })
	x.until(t, "held", 2*time.Hour, func() bool { return x.d.Mode == controller.Held })
	if x.d.Reason != controller.NobodyCame {
		t.Errorf("%s", x)
	}
	x.off(t, "after the pause", minute, true)
	x.allow(t, controller.Resume)
}

// A boil that was held goes back to its climb with what it has earned: the
// clock does not run on in cold wort, and somebody has to stand there again.
func TestABoilThatWasHeldClimbsAgainAndKeepsItsTime(t *testing.T) {
	x := along(t, sampleConfig(), profile.Boil, controller.Boil)
	x.run(10 * minute)
	earned := x.d.Earned
	x.allow(t, controller.Stop)
	x.run(5 * minute)
	x.allow(t, controller.Resume)
	if x.d.Stage != controller.Climb && x.d.Stage != controller.Door || x.d.Earned != earned {
		t.Fatalf("%s; want the climb with %v earned", x, earned)
	}
	x.until(t, "the question", time.Hour, func() bool { return x.d.Stage == controller.Door })
	if x.d.Earned != earned {
		t.Errorf("earned %v on the way; want %v", x.d.Earned, earned)
	}
	x.allow(t, controller.HereLidOff)
	x.until(t, "the boil", time.Hour, func() bool { return x.d.Stage == controller.Boil })
	if x.d.Earned < earned {
		t.Errorf("the boil begins anew at %v; want at least %v", x.d.Earned, earned)
	}
}

// Pressed by mistake: what has not been done to mash or bag can be taken back.
func TestPouringAndLiftingPressedByMistakeAreTakenBack(t *testing.T) {
	x := along(t, sampleConfig(), profile.MashIn, controller.Pour)
	x.allow(t, controller.NoGrain)
	if x.d.Kind != profile.Strike {
		t.Errorf("%s; want the strike again", x)
	}
	x.until(t, "strike water ready again", time.Hour, func() bool { return x.d.Stage == controller.Ready })
	y := along(t, sampleConfig(), profile.Lift, controller.Hoist)
	y.allow(t, controller.StepBack)
	if y.d.Kind != profile.Lift || y.d.Stage != controller.Ready {
		t.Errorf("%s; want the lift's wait again", y)
	}
}

// "It boils" is believed within 5 °C of the boiling point, not at 80 °C.
func TestItBoilsIsNotBelievedFarBelowTheBoilingPoint(t *testing.T) {
	x := along(t, sampleConfig(), profile.Boil, controller.Climb)
	x.refuse(t, controller.Command{Wish: controller.ItBoils}, controller.WrongStage)
	x = along(t, sampleConfig(), profile.Boil, controller.Door)
	x.allow(t, controller.ItBoils)
}

// A slip of the decimal point would tell the level balance of a lake.
func TestMoreWortThanWaterIsASlip(t *testing.T) {
	c := sampleConfig()
	c.Water = 26
	x := along(t, c, profile.Lift, controller.Drain)
	x.refuse(t, controller.Command{Wish: controller.Drained, Volume: 223}, controller.NeedsFigure)
	x.refuse(t, controller.Command{Wish: controller.Drained, Volume: unit.Litres(22.3)}, controller.NotRefused)
}

// A state taken to a new process goes on with what was earned, once the probe
// is known again.
func TestARestartedStateGoesOn(t *testing.T) {
	x := along(t, sampleConfig(), profile.Rest, controller.Count)
	x.run(5 * minute)
	s := x.s.Restarted()
	if s.Begun || s.Last != 0 || s.Earned != x.s.Earned || s.Mode != controller.Running {
		t.Errorf("restarted: begun %v, last %v, earned %v, %v", s.Begun, s.Last, s.Earned, s.Mode)
	}
}
