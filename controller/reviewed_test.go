package controller_test

import (
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
)

// A person who says that the element is bare has the heat off until he states a
// volume that covers it.
func TestAStatedBareElementHasTheHeatOff(t *testing.T) {
	x := along(t, sampleConfig(), profile.Lift, controller.Drain)
	x.refuse(t, controller.Command{Wish: controller.Drained, Volume: 5}, controller.ElementBare)
	x.off(t, "after a bare element was stated", 10*minute, false)
	x.refuse(t, controller.Command{Wish: controller.Drained, Volume: unit.Litres(22.3)}, controller.NotRefused)
	x.heats(t, "with the element covered", 2*minute)
}

// Strike water that cooled while the batch was held is heated before anyone is
// asked to pour.
func TestStrikeWaterThatCooledIsNotCalledReady(t *testing.T) {
	x := along(t, sampleConfig(), profile.Strike, controller.Ready)
	x.allow(t, controller.Stop)
	x.run(2 * time.Hour)
	x.allow(t, controller.Resume)
	if x.d.Stage != controller.Heat || x.d.Prompt != controller.NoPrompt {
		t.Fatalf("%s; want it to heat, with no question", x)
	}
	x.until(t, "strike water ready again", time.Hour, func() bool { return x.d.Stage == controller.Ready })
}

// A boil that sinks out of the boil gets all power and raises the alarm; its
// clock, once started, runs on.
func TestABoilThatSinksIsSaidAndGetsAllPower(t *testing.T) {
	x := along(t, sampleConfig(), profile.Boil, controller.Boil)
	earned := x.d.Earned
	x.pin(float64(sampleConfig().Boiling)-5, 10*minute)
	if !x.d.Alarms[controller.AlarmNoBoil] {
		t.Errorf("no alarm: %s", x)
	}
	if x.d.Duty < 1 {
		t.Errorf("duty %.2f in a boil that sank; want 1", float64(x.d.Duty))
	}
	if x.d.Earned <= earned {
		t.Errorf("the clock stood at %v", x.d.Earned)
	}
}
