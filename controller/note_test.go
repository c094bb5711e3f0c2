package controller_test

import (
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/gravity"
)

func thermometer(at unit.Celsius) controller.Command {
	return controller.Command{Wish: controller.ThermometerSays, At: at}
}

// Another thermometer is compared and said. Whatever it says, reading, target, load
// and every decision on heat stay as if nothing had been said.
func TestAnotherThermometerChangesNothingThatHeats(t *testing.T) {
	for _, at := range []unit.Celsius{1, 62.4, 100} {
		x := at63(t)
		y := x.from()
		if why := x.order(thermometer(at)); why != controller.NotRefused {
			t.Fatal(why)
		}
		y.tick()
		near(t, "differs", x.value(t, controller.ProbeDiffers), float64(at-y.d.Filtered), 1e-9)
		for range 1800 {
			x.tick()
			y.tick()
			a, b := x.d, y.d
			if a.Wanted != b.Wanted || a.Duty != b.Duty || a.Estimate != b.Estimate || a.Filtered != b.Filtered || a.Target != b.Target || a.Volume != b.Volume || a.Statement != b.Statement || a.Armed != b.Armed {
				t.Fatalf("%.1f °C said: %v of %.4f, unsaid %v of %.4f", float64(at), a.Wanted, float64(a.Duty), b.Wanted, float64(b.Duty))
			}
		}
	}
}

// 2 K are more than a DS18B20 (0.5 K by its data sheet) and a kitchen thermometer
// (1 K, common practice) are wrong together.
func TestADifferenceOfTwoKelvinIsAnAlarmForHalfAnHour(t *testing.T) {
	x := at63(t)
	for _, c := range []struct {
		off   unit.Kelvin
		alarm bool
	}{{-0.6, false}, {1.9, false}, {2.05, true}, {-2.05, true}, {0.2, false}} {
		x.order(thermometer(x.d.Filtered.Plus(c.off)))
		if x.d.Alarms[controller.AlarmProbe] != c.alarm {
			t.Errorf("%.2f K: alarm %v", float64(c.off), x.d.Alarms[controller.AlarmProbe])
		}
	}
	x.order(thermometer(60))
	x.until(t, "no alarm any more", 31*minute, func() bool { return !x.d.Alarms[controller.AlarmProbe] })
	near(t, "stood, min", float64(x.times(controller.AlarmCleared)[len(x.times(controller.AlarmCleared))-1]-x.times(controller.AlarmRaised)[len(x.times(controller.AlarmRaised))-1])/float64(minute), 30, 0.1)
}

// In a heat-up, with the pump off before a hose, or without a reading, two
// thermometers need not say the same.
func TestTwoThermometersAreComparedAtRestOnly(t *testing.T) {
	heating := along(t, sampleConfig(), profile.Rest, controller.Heat).run(4 * minute)
	mute := at63(t)
	mute.mute = true
	mute.run(time.Minute)
	hose := sampleConfig()
	hose.Place = controller.Return
	hose.Steps[2].For = 3 * time.Hour
	blind := along(t, hose, profile.Rest, controller.Count).run(20 * minute)
	blind.allow(t, controller.PumpOff)
	blind.run(tick)
	mixing := at63(t)
	mixing.order(deed(controller.Added, 3, 12))
	scalds := along(t, sampleConfig(), profile.Boil, controller.Boil).run(5 * minute)
	scalds.allow(t, controller.ChillerIn)
	for name, x := range map[string]*day{"heating": heating, "cold metal in the boil": scalds, "no reading": mute, "a hose without flow": blind, "water mixes": mixing} {
		if why := x.order(thermometer(40)); why != controller.NotRefused {
			t.Fatal(name, why)
		}
		if len(x.times(controller.ProbeUncompared)) != 1 || len(x.times(controller.ProbeDiffers)) != 0 || x.d.Alarms[controller.AlarmProbe] {
			t.Errorf("%s: compared", name)
		}
	}
}

// How a reading is corrected, package gravity is held to, by the table of the National
// Bureau of Standards; here, that the core says it, or says why not.
func TestGravityIsCorrectedOrRefused(t *testing.T) {
	x := at63(t)
	told := controller.Command{Wish: controller.GravityIs, Instrument: gravity.Refractometer, Value: 11.9, At: 22}
	if why := x.order(told); why != controller.NotRefused {
		t.Fatal(why)
	}
	// 11.9/1.04 = 11.44 °P, which ASBC's polynomial has at 1.04603.
	near(t, "gravity", x.value(t, controller.GravityRead), 1.04603, 0.00005)
	for _, c := range []struct {
		told controller.Command
		want controller.Refusal
	}{
		{controller.Command{Wish: controller.GravityIs, Value: 1.05, At: 65}, controller.SampleWarm},
		{controller.Command{Wish: controller.GravityIs, Value: 1.05, At: 5}, controller.SampleWarm},
		{controller.Command{Wish: controller.GravityIs, Instrument: gravity.Refractometer, Value: 11, At: 31}, controller.SampleWarm},
		{controller.Command{Wish: controller.GravityIs, Value: 1.05}, controller.SampleWarm},
		{controller.Command{Wish: controller.GravityIs, Value: 1.05, At: 20, Calibrated: 65}, controller.SampleWarm},
		{controller.Command{Wish: controller.GravityIs, Value: 1050, At: 20}, controller.NotWort},
		{controller.Command{Wish: controller.GravityIs, Value: 0, At: 20}, controller.NotWort},
		{controller.Command{Wish: controller.GravityIs, Instrument: 9, Value: 1.05, At: 20}, controller.NotWort},
		{controller.Command{Wish: controller.PHIs, Value: 54, At: 20}, controller.NotPH},
		{controller.Command{Wish: controller.PHIs, Value: 5.4}, controller.NotPH},
		{controller.Command{Wish: controller.PHIs, Value: 5.4, At: 20, Spot: 9}, controller.NotPH},
		{controller.Command{Wish: controller.ThermometerSays}, controller.NotWater},
		{controller.Command{Wish: controller.ThermometerSays, At: 145}, controller.NotWater},
	} {
		x.refuse(t, c.told, c.want)
	}
	// A float whose scale is true at 60 °F: the density of water at 15.56 °C over that at
	// 20 °C (IAPWS R7-97, 999.01 and 998.21 kg/m³), and the glass 4.44 K at 25e-6/K.
	if why := x.order(controller.Command{Wish: controller.GravityIs, Value: 1.05, At: 20, Calibrated: 15.56}); why != controller.NotRefused {
		t.Fatal(why)
	}
	near(t, "by a float of 60 °F", x.value(t, controller.GravityRead), 1.05*999.01/998.21*(1-4.44*25e-6), 0.0002)
	before := x.d.Deeds
	if x.order(controller.Command{Wish: controller.PHIs, Value: 5.38, At: 20, Spot: controller.SpotMiddle}); x.d.Deeds != before+1 {
		t.Error("a pH is not counted as told")
	}
	near(t, "pH", x.value(t, controller.PHRead), 5.38, 0)
}

// A pump that stopped by itself is off at once, and once it runs again the kettle has
// to mix before it is heated: three minutes.
func TestAPumpThatStoppedByItselfIsOffAndTheKettleMixesAfterwards(t *testing.T) {
	x := at63(t)
	if x.d.Pump != unit.On {
		t.Fatal("it does not run")
	}
	x.allow(t, controller.PumpStands)
	if x.d.Pump != unit.Off {
		t.Error("it is told to run on")
	}
	x.run(10 * tick)
	x.allow(t, controller.PumpOn)
	x.until(t, "running", 10*tick, func() bool { return x.d.Pump == unit.On })
	x.off(t, "until it has mixed", 2*minute+50*time.Second, false)
	x.heats(t, "then", 2*minute)
	dry := sampleConfig()
	dry.HasPump = false
	along(t, dry, profile.Rest, controller.Count).refuse(t, controller.Command{Wish: controller.PumpStands}, controller.NoPump)
}

func TestSpotsAreFoundByTheirWord(t *testing.T) {
	for s := controller.NoSpot; s <= controller.SpotStirred; s++ {
		if got, ok := controller.SpotOf(s.String()); !ok || got != s {
			t.Errorf("%v: %v, %v", s, got, ok)
		}
	}
	if _, ok := controller.SpotOf("bucket"); ok {
		t.Error("there is no bucket")
	}
}
