package controller_test

import (
	"math"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
)

// deed is a deed with its figures.
func deed(w controller.Wish, litres unit.Litres, at unit.Celsius) controller.Command {
	return controller.Command{Wish: w, Volume: litres, At: at}
}

// value is that of the newest event of a kind.
func (x *day) value(t testing.TB, kind controller.EventKind) float64 {
	t.Helper()
	for i := len(x.log) - 1; i >= 0; i-- {
		if x.log[i].Kind == kind {
			return x.log[i].Value
		}
	}
	t.Fatalf("no event %v; %s", kind, x)
	return 0
}

// at63 is a day well into the first heated rest.
func at63(t testing.TB) *day {
	c := sampleConfig()
	c.Steps[2].For = 3 * time.Hour
	return along(t, c, profile.Rest, controller.Count).run(10 * minute)
}

// The method of mixtures (heat given is heat taken; in every textbook of physics)
// by hand. In the kettle: 120.8 kJ/K at 63 °C. In: 2 L at 60 °C, by the density of
// water at 60 °C (983.21 kg/m³, IAPWS R7-97) 1.9664 kg, 1.970 cold litres, and with
// 4186 J/(kg K) 8.231 kJ/K: (120.8·63 + 8.231·60)/129.03 = 62.81 °C. Of 3 L at 12 °C
// (999.50 kg/m³): 2.9985 kg, 12.552 kJ/K, (120.8·63 + 12.552·12)/133.35 = 58.20 °C.
func TestWaterMixesByTheMethodOfMixtures(t *testing.T) {
	for _, c := range []struct {
		litres                     unit.Litres
		at                         unit.Celsius
		cold, load, mixed, startAt float64
	}{
		{2, 60, 1.970, 8.231e3, 62.81, 63},
		{3, 12, 3.004, 12.552e3, 58.20, 63},
	} {
		x := at63(t)
		before := x.s
		if why := x.order(deed(controller.Added, c.litres, c.at)); why != controller.NotRefused {
			t.Fatal(why)
		}
		near(t, "cold litres", x.value(t, controller.WaterAdded), c.cold, 0.002)
		near(t, "load", float64(x.s.Load-before.Load), c.load, 10)
		near(t, "in the kettle", float64(x.d.Water), 26+c.cold, 0.002)
		near(t, "mean that is foreseen", x.value(t, controller.MixForeseen), c.mixed+float64(before.Law.Mean)-c.startAt, 0.02)
		near(t, "mean that the law acts on", float64(x.s.Law.Mean), x.value(t, controller.MixForeseen), 0.05)
	}
}

// In the very tick and until the reading has answered, the law neither heats for
// what has not shown yet nor takes the falling reading for a disturbance; then it
// heats by the balance and lands.
func TestARestThatColdWaterWasToldOfLandsWithoutAKick(t *testing.T) {
	for name, pour := range map[string]time.Duration{"told at once": 0, "told two minutes late": 2 * minute} {
		x := at63(t).run(10 * minute) // what holding takes is learned by then
		spare := x.s.Law.Spare
		x.k.mix(12552, 12)
		x.run(pour)
		if why := x.order(deed(controller.Added, 3, 12)); why != controller.NotRefused {
			t.Fatal(name, why)
		}
		near(t, name+": mean a tick after", float64(x.s.Law.Mean), x.k.at, 0.25)
		near(t, name+": learned of holding", x.s.Law.Spare, spare, 1e-3)
		highest := 0.0
		from := x.now
		x.until(t, name+": back", 10*minute, func() bool { return x.k.at > 62.9 })
		took := x.now - from
		for range 1800 {
			x.tick()
			highest = max(highest, x.k.at)
		}
		// 3000 W less 315 W of loss lift 133.35 kJ/K by 4.7 K in 233 s; the reading has
		// to fall first, some 10 s.
		if most := 270 * time.Second; took > most || highest > 63.1 {
			t.Errorf("%s: back after %v, highest %.2f °C", name, took, highest)
		}
	}
}

// What was never poured is not heated: the mash stays where it is, and after the
// time in which water mixes the reading is believed.
func TestWaterThatNeverWentInHeatsNothing(t *testing.T) {
	x := at63(t)
	if why := x.order(deed(controller.Added, 20, 12)); why != controller.NotRefused {
		t.Fatal(why)
	}
	highest := 0.0
	for range 3600 {
		x.tick()
		highest = max(highest, x.k.at)
	}
	if highest > 63.3 || x.d.Water != 26 {
		t.Errorf("the mash went to %.2f °C for water that never came, %.2f L are counted", highest, float64(x.d.Water))
	}
	if x.count(controller.MixDoubted, x.value(t, controller.MixDoubted)) != 1 {
		t.Error("it is not said, or not once")
	}
	near(t, "an hour later", x.k.at, 63, 0.2)
}

// The same in a heat-up, where there is no standing still to be seen: the balance is
// left for the reading as soon as the water would have mixed.
func TestWaterThatNeverWentInDoesNotProlongAHeatUp(t *testing.T) {
	c := sampleConfig()
	c.Steps[2].For = 3 * time.Hour
	x := along(t, c, profile.Rest, controller.Heat).run(4 * minute)
	if why := x.order(deed(controller.Added, 15, 12)); why != controller.NotRefused {
		t.Fatal(why)
	}
	highest := 0.0
	for range 3 * 3600 {
		x.tick()
		highest = max(highest, x.k.at)
	}
	if highest > 63.5 || len(x.times(controller.MixDoubted)) != 1 {
		t.Errorf("the mash went to %.2f °C for water that never came; said %d times", highest, len(x.times(controller.MixDoubted)))
	}
}

// What a person says he put in raises no level: the interlock is told of a volume
// that was read, and of what was taken out. Every figure by hand, in cold litres.
func TestOnlyAVolumeThatWasReadRaisesTheLevel(t *testing.T) {
	x := along(t, sampleConfig(), profile.Boil, controller.Climb)
	first := x.d
	if first.Volume != 22.3 || first.Drawn != 0 || first.Statement == 0 {
		t.Fatalf("after the lift %v L, %v drawn, statement %d", first.Volume, first.Drawn, first.Statement)
	}
	x.order(deed(controller.Added, 20, 12))
	if x.d.Volume != 22.3 || x.d.Drawn != 0 || x.d.Statement != first.Statement {
		t.Errorf("20 L that were only said: %v L, %v drawn, statement %d", x.d.Volume, x.d.Drawn, x.d.Statement)
	}
	near(t, "heated", float64(x.d.Water), 22.3+20*0.9995/0.99821, 0.01)
	x.run(minute)
	at := float64(x.d.Filtered)
	if why := x.order(deed(controller.TookOut, 3, 0)); why != controller.NotRefused {
		t.Fatal(why)
	}
	if x.d.Volume != 22.3 || x.d.Statement != first.Statement {
		t.Errorf("taken out: %v L, statement %d", x.d.Volume, x.d.Statement)
	}
	// Water's density at some 75 °C is 974.8 kg/m³ (IAPWS R7-97).
	near(t, "drawn, cold", float64(x.d.Drawn), 3*0.9748/0.99821, 0.012)
	if at < 70 || at > 80 {
		t.Errorf("the kettle stands at %.1f °C: the density above is another", at)
	}
	if why := x.order(deed(controller.VolumeIs, 23.1, 76)); why != controller.NotRefused {
		t.Fatal(why)
	}
	// 23.1 L at 76 °C (974.26 kg/m³) are 22.546 L at 20 °C (998.21 kg/m³).
	near(t, "read, cold", float64(x.d.Volume), 22.546, 0.002)
	if x.d.Drawn != 0 || x.d.Statement != first.Statement+1 || x.d.Water != x.d.Volume {
		t.Errorf("read: %v drawn, statement %d, %v L in all", x.d.Drawn, x.d.Statement, x.d.Water)
	}
	near(t, "its load", float64(x.s.Load), vesselLoad+(wortLoad-vesselLoad)/22.3*22.546, 20)
}

// With the grain in, stick and glass show its room too, and it does not expand:
// 23.1 L at 76 °C with 3.1 L of grain are 20 L of water, 19.520 L cold.
func TestAVolumeReadInTheMashHasTheGrainInIt(t *testing.T) {
	x := at63(t)
	if why := x.order(deed(controller.VolumeIs, 23.1, 76)); why != controller.NotRefused {
		t.Fatal(why)
	}
	near(t, "water", float64(x.d.Water), 20*0.974256/0.99821, 0.002)
	near(t, "load", float64(x.s.Load), waterLoad+grainLoad-(26-19.520)*0.998206*4186, 30)
	if x.d.Volume != 0 || x.d.Statement != 0 {
		t.Errorf("before the lift the level is %v L, statement %d", x.d.Volume, x.d.Statement)
	}
}

// How fast the kettle heats has been seen: a volume that explains it takes the
// place of what was learned, and is not counted twice.
func TestAVolumeThatExplainsTheRateLeavesTheRate(t *testing.T) {
	x := started(t, sampleConfig())
	x.k.load = 4100 + 20*0.998206*4186 // 20 L, not 26
	x.until(t, "said", 30*minute, func() bool {
		return x.count(controller.LoadDoubted, x.s.Law.Gain) > 0 || x.d.Alarms[controller.AlarmDeclared]
	})
	before := x.s.Law.Gain / float64(x.s.Load)
	if why := x.order(deed(controller.VolumeIs, 20, 20)); why != controller.NotRefused {
		t.Fatal(why)
	}
	near(t, "rate, of what it was", x.s.Law.Gain/float64(x.s.Load)/before, 1, 1e-9)
	if math.Abs(x.s.Law.Gain-1) > 0.05 || x.d.Alarms[controller.AlarmDeclared] {
		t.Errorf("gain %.3f, alarm %v", x.s.Law.Gain, x.d.Alarms[controller.AlarmDeclared])
	}
	x.to(t, profile.Strike, controller.Ready)
	// Less water has to be hotter for the same grain: by hand 45.8 + (112.9/87.7 − 1)·1.8.
	near(t, "strike for 20 L", float64(x.d.Target), 46.31, 0.03)
	near(t, "strike water", x.k.at, float64(x.d.Target), 0.25)
}

// Cold water that was told of is no grain, and strike water that it has cooled is
// heated again before anybody pours.
func TestColdWaterToldOfInTheStrikeIsNoGrain(t *testing.T) {
	x := along(t, sampleConfig(), profile.Strike, controller.Ready).run(2 * minute)
	x.k.mix(12552, 12)
	x.order(deed(controller.Added, 3, 12))
	if x.d.Stage != controller.Heat {
		t.Errorf("pouring is still asked for: %s", x)
	}
	x.to(t, profile.Strike, controller.Ready)
	if n := len(x.times(controller.GrainSuspected)); n > 0 {
		t.Error("it was taken for grain")
	}
	// More water needs to be less hot: 44 + 1.8·112.9/125.45.
	near(t, "strike for 29 L", float64(x.d.Target), 45.62, 0.02)
	x.allow(t, controller.PouringNow)
	x.k.mix(grainLoad, 18)
	x.allow(t, controller.GrainIn)
	near(t, "mash", x.k.at, 44, 0.25)
	near(t, "mean after the pour", float64(x.s.Law.Mean), x.k.at, 0.25)
}

func TestWhatCannotBeIsRefusedAndChangesNothing(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	rest, hoist := at63(t), along(t, sampleConfig(), profile.Lift, controller.Ready).allow(t, controller.LiftingNow)
	drain := hoist.from().allow(t, controller.BagClear)
	pour := along(t, sampleConfig(), profile.MashIn, controller.Pour)
	for _, c := range []struct {
		x    *day
		c    controller.Command
		want controller.Refusal
	}{
		{rest, deed(controller.Added, 2, 0), controller.NotWater},
		{rest, deed(controller.Added, 2, -5), controller.NotWater},
		{rest, deed(controller.Added, 2, 100.1), controller.NotWater},
		{rest, deed(controller.Added, 2, unit.Celsius(nan)), controller.NotWater},
		{rest, deed(controller.Added, 0, 60), controller.NeedsFigure},
		{rest, deed(controller.Added, -2, 60), controller.NeedsFigure},
		{rest, deed(controller.Added, unit.Litres(nan), 60), controller.NeedsFigure},
		{rest, deed(controller.Added, unit.Litres(inf), 60), controller.Overfull},
		// 50 L to the brim; 26 L of water take 26.5 L at 63 °C and the grain 3.1 L.
		{rest, deed(controller.Added, 20.6, 60), controller.Overfull},
		{rest, deed(controller.Added, 20.0, 60), controller.NotRefused},
		{rest, deed(controller.TookOut, 0, 0), controller.NeedsFigure},
		{rest, deed(controller.TookOut, unit.Litres(nan), 0), controller.NeedsFigure},
		{rest, deed(controller.TookOut, unit.Litres(inf), 0), controller.NeedsFigure},
		{rest, deed(controller.TookOut, 60, 0), controller.NeedsFigure}, // more than any kettle of 50 L gives
		{rest, deed(controller.VolumeIs, 50.1, 63), controller.Overfull},
		{rest, deed(controller.VolumeIs, 3, 63), controller.NeedsFigure}, // less than the grain alone
		{rest, deed(controller.VolumeIs, 25, 0), controller.NotWater},
		{hoist, deed(controller.Added, 2, 60), controller.WrongStage},
		{hoist, deed(controller.TookOut, 2, 0), controller.WrongStage},
		{hoist, deed(controller.VolumeIs, 22, 76), controller.WrongStage},
		{drain, deed(controller.VolumeIs, 22, 76), controller.WrongStage},
		{pour, deed(controller.VolumeIs, 22, 44), controller.WrongStage},
	} {
		with, without := c.x.from(), c.x.from()
		if got := with.order(c.c); got != c.want {
			t.Errorf("%+v answered with %q, want %q", c.c, got, c.want)
		}
		without.tick()
		if c.want != controller.NotRefused && with.s != without.s {
			t.Errorf("refused %+v has changed the state", c.c)
		}
	}
	unknown := sampleConfig()
	unknown.Capacity = 0 // a kettle of which nobody said how much it holds
	x := along(t, unknown, profile.Rest, controller.Count)
	x.refuse(t, deed(controller.Added, 1, 60), controller.Overfull)
}

// So much taken out that the element may be bare ends the heat in that tick,
// whatever comes of the figure; a volume that covers it, as read, gives it back.
func TestTakenOutBeyondTheElementIsOffAtOnce(t *testing.T) {
	boil := along(t, sampleConfig(), profile.Boil, controller.Boil).run(5 * minute)
	for name, x := range map[string]*day{"rest": at63(t), "boil": boil} {
		x.refuse(t, deed(controller.TookOut, 18, 0), controller.WouldBare)
		if x.d.Wanted == unit.On || x.d.Duty != 0 || !x.d.Bare || !x.d.Alarms[controller.AlarmLevel] {
			t.Errorf("%s: element %v, duty %v, bare %v, alarm %v", name, x.d.Wanted, x.d.Duty, x.d.Bare, x.d.Alarms[controller.AlarmLevel])
		}
		x.order(deed(controller.Added, 20, 90)) // said, and not read
		x.off(t, name+": after it was only said that more went in", 10*minute, false)
		x.order(deed(controller.VolumeIs, 12.9, 90)) // does not cover it
		x.off(t, name+": after too little was read", minute, false)
		if why := x.order(deed(controller.VolumeIs, 24, 63)); why != controller.NotRefused {
			t.Fatal(name, why)
		}
		x.heats(t, name+": after it was read", 10*minute)
	}
	// STOP first: then what was taken out is a fact, and heat comes back by a
	// volume only.
	x := at63(t).allow(t, controller.Stop)
	if why := x.order(deed(controller.TookOut, 18, 0)); why != controller.NotRefused {
		t.Fatal(why)
	}
	x.allow(t, controller.Resume)
	x.off(t, "gone on without a volume", 5*minute, false)
	x.order(deed(controller.VolumeIs, 24, 60))
	x.heats(t, "with one", 10*minute)
}

// An open lid is a loss that is met before the reading has fallen: by 50 W/(kPa m²)
// of open surface (profile/heat), 0.126 m², and 21.8 kPa between 63 °C (22.87 kPa,
// IAPWS-IF97) and half of 18 °C (2.06 kPa), 137.6 W of 3000; and by the air's 6 W/(m² K)
// over 45 K, 33.9 W.
func TestALidThatIsOffIsMetAtOnce(t *testing.T) {
	x := at63(t).run(5 * minute)
	before := x.d.Terms.Forward
	x.allow(t, controller.LidOff)
	x.tick()
	near(t, "forward", x.d.Terms.Forward-before, (137.6+33.9)/3000, 0.001)
	x.allow(t, controller.LidOn)
	x.tick()
	near(t, "forward again", x.d.Terms.Forward, before, 0.001)
}

// TestDeedsGoOnAfterAnOutage: what was told is not forgotten with the process.
func TestDeedsGoOnAfterAnOutage(t *testing.T) {
	x := at63(t)
	x.order(deed(controller.Added, 2, 60))
	load, water := x.s.Load, x.d.Water
	x.s = x.s.Offer(minute, true)
	x.run(10 * tick)
	if why := x.order(controller.Command{Wish: controller.TakeUp, Volume: 28}); why != controller.NotRefused {
		t.Fatal(why)
	}
	if x.s.Load != load || x.d.Water != water {
		t.Errorf("%v J/K and %v L, were %v and %v", x.s.Load, x.d.Water, load, water)
	}
}

// barred holds that nothing is asked of the element for half an hour, whatever is
// pressed but a volume.
func (x *day) barred(t testing.TB, when string) {
	t.Helper()
	if !x.s.Bare {
		t.Errorf("%s: the heat is not barred", when)
	}
	for range 1800 {
		if x.tick(); x.d.Wanted == unit.On {
			t.Fatalf("%s: heat on a kettle of which less was said than covers the element; %s", when, x)
		}
	}
}

// The press alone confirms the plan. It does not confirm it against what was said
// last: a volume that leaves the element bare, or that much taken out before the lift.
func TestThePressAloneConfirmsNoPlanThatWasContradicted(t *testing.T) {
	x := along(t, sampleConfig(), profile.Lift, controller.Drain)
	x.refuse(t, deed(controller.Drained, 5, 0), controller.ElementBare)
	x.refuse(t, deed(controller.Drained, 0, 0), controller.NeedsFigure)
	x.barred(t, "drained to 5 L")
	y := x.from()
	y.s = y.s.Offer(0, true) // a power cut while it drips: 14 L are not yet what is left
	if why := y.order(deed(controller.TakeUp, 14, 0)); why != controller.NotRefused {
		t.Fatal(why)
	}
	y.refuse(t, deed(controller.Drained, 0, 0), controller.NeedsFigure)
	y.barred(t, "gone on with while it drips")
	if why := x.order(deed(controller.Drained, 14, 0)); why != controller.NotRefused || x.s.Bare || x.d.Volume != 14 {
		t.Errorf("a volume that covers it: %v, %v L", why, x.d.Volume)
	}

	x = along(t, sampleConfig(), profile.Lift, controller.Ready)
	x.refuse(t, deed(controller.TookOut, 20, 0), controller.WouldBare)
	x.allow(t, controller.LiftingNow).allow(t, controller.BagClear)
	x.refuse(t, deed(controller.Drained, 0, 0), controller.NeedsFigure)
	x.barred(t, "20 L out before the lift")
}

// 26 cold litres are more than 26 at 63 °C: whoever empties the kettle and says
// what he measured is not told that the figure cannot be, and heated on.
func TestAllThatIsInTheKettleAndMoreEndsTheHeat(t *testing.T) {
	for _, litres := range []unit.Litres{26.8, 40} {
		x := at63(t)
		load, water := x.s.Load, x.d.Water
		x.refuse(t, deed(controller.TookOut, litres, 0), controller.WouldBare)
		x.barred(t, "all out")
		x.allow(t, controller.Stop)
		x.refuse(t, deed(controller.TookOut, litres, 0), controller.WouldBare)
		if x.s.Load != load || x.d.Water != water {
			t.Errorf("%v L out became the volume: %v L, load %v", litres, x.d.Water, x.s.Load)
		}
	}
}

// Before the lift as after it what was only said to have gone in is no level: 24 of
// 26 L out leave the element bare, whatever did not go in.
func TestWaterThatWasOnlySaidCoversNothingBeforeTheLift(t *testing.T) {
	for _, warm := range []unit.Celsius{63, 12} {
		x := at63(t)
		if why := x.order(deed(controller.Added, 19, warm)); why != controller.NotRefused {
			t.Fatal(why)
		}
		x.run(minute).refuse(t, deed(controller.TookOut, 24, 0), controller.WouldBare)
		x.barred(t, "24 L out")
		if why := x.order(deed(controller.VolumeIs, 25, 63)); why != controller.NotRefused || x.s.Bare {
			t.Errorf("a volume that was read gives no heat back: %v", why)
		}
	}
	x := along(t, sampleConfig(), profile.Lift, controller.Ready)
	x.order(deed(controller.Added, 5, 77))
	x.order(deed(controller.TookOut, 5, 0))
	x.allow(t, controller.LiftingNow).allow(t, controller.BagClear)
	x.order(deed(controller.Drained, 0, 0))
	// 5 L at 77 °C (973.67 kg/m³, IAPWS R7-97) are 4.877 L at 20 °C.
	near(t, "after the lift", float64(x.d.Volume), 22.3-4.877, 0.02)
}

// Water that was told of by a slip, and taken back by hand as what went out, is not
// taken off once more when it does not show.
func TestASlipThatIsPutRightIsTakenBackOnce(t *testing.T) {
	x := at63(t)
	load := x.s.Load
	x.order(deed(controller.Added, 5, 12))
	x.run(10 * time.Second)
	x.order(deed(controller.TookOut, 5, 0))
	x.run(5 * minute)
	near(t, "water", float64(x.d.Water), 26, 0.15)
	near(t, "load", float64(x.s.Load), float64(load), 600)
}
