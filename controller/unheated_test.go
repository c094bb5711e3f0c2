package controller_test

import (
	"testing"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
)

// A pump that a person has turned off leaves a kettle unheated whose probe sits in its
// hose. That is said at once, wherever heat is needed, and an alarm after two minutes;
// and it is over as soon as the pump runs.
func TestAPumpThatIsOffWithTheProbeInItsHoseIsSaid(t *testing.T) {
	c := sampleConfig()
	c.Place, c.InBoil = controller.Return, true
	for name, x := range map[string]*day{
		"strike": started(t, c), "ready": along(t, c, profile.Strike, controller.Ready), "heat-up": along(t, c, profile.Rest, controller.Heat),
		"rest": along(t, c, profile.Rest, controller.Count), "lift": along(t, c, profile.Lift, controller.Ready),
		"climb": along(t, c, profile.Boil, controller.Climb), "boil": along(t, c, profile.Boil, controller.Boil),
	} {
		x.answers = false
		x.run(minute)
		stage := x.d.Stage
		if x.d.Unheated || x.d.Alarms[controller.AlarmPumpOff] {
			t.Errorf("%s: said while the pump runs; %s", name, x)
		}
		x.allow(t, controller.PumpOff)
		since := x.now
		if x.run(2 * tick); !x.d.Unheated {
			t.Errorf("%s: not said at once; %s", name, x)
		}
		x.until(t, name+": the alarm", 3*minute, func() bool {
			if x.d.Wanted == unit.On {
				t.Fatalf("%s: heated; %s", name, x)
			}
			return x.d.Alarms[controller.AlarmPumpOff]
		})
		if after := x.now - since; after < controller.UnheatedPatience-2*tick || after > controller.UnheatedPatience+2*tick || x.d.Stage != stage {
			t.Errorf("%s: an alarm after %v; want %v; %s", name, after, controller.UnheatedPatience, x)
		}
		x.allow(t, controller.PumpOn)
		if x.run(2 * controller.PumpWarning); x.d.Alarms[controller.AlarmPumpOff] {
			t.Errorf("%s: the pump runs and the alarm stands; %s", name, x)
		}
		if x.run(3 * minute); x.d.Unheated {
			t.Errorf("%s: still said three minutes later; %s", name, x)
		}
	}
}

// Elsewhere a kettle is heated with its pump off, and where no heat is wanted none is
// missed.
func TestAPumpThatIsOffIsNoAlarmWhereItTakesNoHeatAway(t *testing.T) {
	c := sampleConfig()
	c.InBoil = true
	outside := along(t, c, profile.Rest, controller.Count)
	c.Place = controller.Return
	for name, x := range map[string]*day{"probe in the wort": outside, "the bed sets": along(t, c, profile.MashIn, controller.Settle)} {
		x.answers = false
		x.allow(t, controller.PumpOff)
		for range 4 * 60 {
			if x.tick().Unheated || x.d.Alarms[controller.AlarmPumpOff] {
				t.Fatalf("%s: %s", name, x)
			}
		}
	}
	x := along(t, c, profile.Rest, controller.Count)
	x.allow(t, controller.RestBed)
	for range int((controller.BedRest - 5*tick) / tick) {
		if x.tick().Unheated {
			t.Fatalf("a bed that rests: %s", x)
		}
	}
}

// A hose that cools while its pump stands has come to no temperature.
func TestAHoseThatCoolsDoesNotEndACooling(t *testing.T) {
	c := sampleConfig()
	c.Place, c.InBoil = controller.Return, true
	c.Steps[3].Target = 50 // below the rest before it
	x := along(t, c, profile.Rest, controller.Count)
	x.allow(t, controller.Skip)
	if x.run(tick); x.d.Phase != controller.Cooling {
		t.Fatal(x)
	}
	x.allow(t, controller.PumpOff)
	x.k.at, x.k.probe = 45, 45
	if x.run(5 * minute); x.d.Reached || x.d.Stage != controller.Heat {
		t.Errorf("it has come to 50 °C by the hose: %s", x)
	}
}
