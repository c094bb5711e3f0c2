package controller_test

import (
	"testing"
	"time"

	"mashward/controller"
	"mashward/profile"
)

// strewn is a day with something thrown in at every kind of moment.
func strewn() controller.Config {
	c := sampleConfig()
	c.Additions, c.FromStart = [profile.MaxAdditions]time.Duration{}, [profile.MaxAdditions]bool{}
	n := uint8(0)
	put := func(step int, at time.Duration, fromStart bool) {
		s := &c.Steps[step]
		if s.To == 0 {
			s.From = n
		}
		c.Additions[n], c.FromStart[n] = at, fromStart
		n++
		s.To = n
	}
	for i := range c.Steps {
		c.Steps[i].From, c.Steps[i].To = 0, 0
	}
	put(0, 0, true)          // 0: salts into the strike water
	put(1, 0, true)          // 1: acid when the grain is in
	put(1, 3*minute, true)   // 2: while the bed settles
	put(2, 10*minute, true)  // 3: ten minutes into the rest
	put(2, 10*minute, false) // 4: ten minutes before its end
	put(5, 0, true)          // 5: first-wort hops
	put(6, 60*minute, false) // 6: 60 min left
	put(6, 0, false)         // 7: flame-out
	put(7, 5*minute, true)   // 8: five minutes into the stand
	put(8, 0, true)          // 9: yeast, when it is cold
	return c
}

// due is when an addition was called out.
func (x *day) due(i int) (at time.Duration, n int) {
	for _, l := range x.log {
		if l.Kind == controller.AdditionDue && int(l.Value) == i {
			at, n = l.at, n+1
		}
	}
	return at, n
}

func TestEachAdditionIsCalledOutOnceAtItsMomentAndWaitsForNobody(t *testing.T) {
	x := started(t, strewn())
	x.answers = true
	began := map[profile.Kind]time.Duration{} // of its clock, or of its stage
	ended := map[profile.Kind]time.Duration{}
	x.until(t, "complete", 12*time.Hour, func() bool {
		k := x.d.Kind
		begins := x.d.Stage == controller.Count && x.d.Reached || x.d.Stage == controller.Boil || x.d.Stage == controller.Drain ||
			x.d.Stage == controller.Settle || x.d.Stage == controller.Heat && k == profile.Strike || x.d.Stage == controller.Cool && x.d.Reached
		if k == profile.Rest && int(x.d.Index) != 2 {
			return false
		}
		if _, seen := began[k]; begins && !seen {
			began[k] = x.now
		}
		ended[k] = x.now
		return x.d.Mode.Ended()
	})
	began[profile.Boil] -= 2 * minute // it had boiled for so long when that was certain
	for i, want := range []time.Duration{
		began[profile.Strike], began[profile.MashIn], began[profile.MashIn] + 3*minute,
		began[profile.Rest] + 10*minute, ended[profile.Rest] - 10*minute, began[profile.Lift],
		began[profile.Boil] + 15*minute, ended[profile.Boil], began[profile.Stand] + 5*minute, ended[profile.Chill],
	} {
		at, n := x.due(i)
		if n != 1 || at < want-3*tick || at > want+3*tick {
			t.Errorf("addition %d called out %d times, at %v; want once, at %v", i, n, at, want)
		}
	}
	if x.d.Mode != controller.Complete || x.d.Called != 0x3ff || x.d.In != 0 || len(x.times(controller.BoilExtended)) != 0 {
		t.Errorf("%s; called %x, in %x", x, x.d.Called, x.d.In)
	}
}

func TestAPressIsLoggedForTheAdditionsItIsOf(t *testing.T) {
	x := along(t, strewn(), profile.Rest, controller.Count)
	if x.d.Called != 0x7 {
		t.Fatalf("called %x", x.d.Called)
	}
	if why := x.order(controller.Command{Wish: controller.AdditionDone, Which: 2}); why != controller.NotRefused || x.d.In != 0x2 {
		t.Errorf("%v, in %x", why, x.d.In)
	}
	x.refuse(t, controller.Command{Wish: controller.AdditionDone, Which: 2}, controller.WrongStage)  // it is in
	x.refuse(t, controller.Command{Wish: controller.AdditionDone, Which: 11}, controller.WrongStage) // there is none
	x.allow(t, controller.AdditionDone)
	if x.d.In != 0x7 || x.count(controller.AdditionIn, 0) != 1 || x.count(controller.AdditionIn, 3) != 0 {
		t.Errorf("in %x", x.d.In)
	}
	// Thrown in before it was called: it is not called any more.
	if why := x.order(controller.Command{Wish: controller.AdditionDone, Which: 4}); why != controller.NotRefused {
		t.Errorf("early: %v", why)
	}
	x.run(12 * minute)
	if _, n := x.due(3); n != 0 || x.d.In != 0xf {
		t.Errorf("called %d times, in %x", n, x.d.In)
	}
}

func TestABoilIsLongerByExactlyTheDelayAndOnlyByAPress(t *testing.T) {
	for _, presses := range []bool{false, true} {
		c := sampleConfig() // 75 min with additions at 60 and 10 min left
		x := along(t, c, profile.Boil, controller.Boil)
		x.refuse(t, controller.Command{Wish: controller.ExtendByDelay}, controller.NothingLate)
		x.until(t, "called", time.Hour, func() bool { return x.d.Called == 1 })
		x.run(4*minute - tick)
		if x.d.Late != 0 {
			t.Fatal("late before anybody said that it is in")
		}
		x.allow(t, controller.AdditionDone)
		late := x.d.Late
		near(t, "late in s", late.Seconds(), 240, 1.5)
		if x.s.Steps[6].For != 75*minute || x.count(controller.DelayOffered, late.Seconds()) != 1 {
			t.Errorf("nobody asked for it: %v", x.s.Steps[6].For)
		}
		want := 75 * minute
		if presses {
			x.allow(t, controller.ExtendByDelay)
			want += late
		}
		if x.s.Steps[6].For != want || presses && x.d.Late != 0 {
			t.Errorf("boils for %v, want %v; still offered: %v", x.s.Steps[6].For, want, x.d.Late)
		}
		x.until(t, "the next called", 2*time.Hour, func() bool { return x.d.Called == 3 })
		near(t, "left at the second addition in s", x.d.Left.Seconds(), 600, 1.5)
		x.run(10 * tick)
		x.allow(t, controller.AdditionDone) // at once: nothing to offer
		x.refuse(t, controller.Command{Wish: controller.ExtendByDelay}, controller.NothingLate)
		x.answers = true
		x.until(t, "flame-out", time.Hour, func() bool { return x.d.Kind != profile.Boil })
	}
}

func TestTheOfferToBoilLongerEndsWithTheBoil(t *testing.T) {
	x := along(t, sampleConfig(), profile.Boil, controller.Boil)
	x.answers = true
	x.until(t, "the last called", 2*time.Hour, func() bool { return x.d.Called == 3 })
	x.run(5 * minute)
	if why := x.order(controller.Command{Wish: controller.AdditionDone, Which: 2}); why != controller.NotRefused || x.d.Late == 0 {
		t.Fatalf("%v, late %v", why, x.d.Late)
	}
	x.until(t, "flame-out", time.Hour, func() bool { return x.d.Kind != profile.Boil })
	if x.d.Late != 0 {
		t.Error("still offered")
	}
	x.refuse(t, controller.Command{Wish: controller.ExtendByDelay}, controller.NothingLate)
}

func TestTheChillerIsAskedForTenMinutesBeforeTheEndAndNobodyIsWaitedFor(t *testing.T) {
	for name, one := range map[string]struct {
		change func(*controller.Config)
		asks   bool
	}{
		"a chill follows, after a stand": {func(*controller.Config) {}, true},
		"no chill follows":               {func(c *controller.Config) { c.Count = 8 }, false},
		"a boil of 8 min":                {func(c *controller.Config) { c.Steps[6].For = 8 * minute }, false},
	} {
		c := sampleConfig()
		one.change(&c)
		x := along(t, c, profile.Boil, controller.Boil)
		at := time.Duration(-1)
		x.until(t, "flame-out", 2*time.Hour, func() bool {
			if at < 0 && x.d.Prompt == controller.AskScald {
				at = x.d.Left
			}
			return x.d.Kind != profile.Boil
		})
		if asked := at >= 0; asked != one.asks || asked && (at < 10*minute-2*tick || at > 10*minute) {
			t.Errorf("%s: asked with %v left, want %v", name, at, one.asks)
		}
		if one.asks && x.count(controller.PromptRaised, float64(controller.AskScald)) != 1 {
			t.Errorf("%s: said %d times", name, x.count(controller.PromptRaised, float64(controller.AskScald)))
		}
	}
}

func TestAfterTheBoilTheChillerIsAskedForAsItIs(t *testing.T) {
	for _, hung := range []bool{false, true} {
		c := sampleConfig()
		c.Steps[7], c.Count = c.Steps[8], 8 // no stand
		x := along(t, c, profile.Boil, controller.Boil)
		want := controller.AskChiller
		if hung {
			want = controller.AskChillerWater
			x.until(t, "asked", 2*time.Hour, func() bool { return x.d.Prompt == controller.AskScald })
			x.allow(t, controller.ChillerIn)
			if x.d.Prompt != controller.NoPrompt || x.s.ChillerOn || len(x.times(controller.ChillerScalds)) != 1 {
				t.Errorf("hung in: prompt %v, its water runs %v", x.d.Prompt, x.s.ChillerOn)
			}
		}
		x.to(t, profile.Chill, controller.Connect)
		x.off(t, "waiting for the chiller's water", 10*minute, true)
		if x.d.Prompt != want || x.d.Stage != controller.Connect {
			t.Errorf("hung in %v: prompt %v, want %v; %s", hung, x.d.Prompt, want, x)
		}
		x.allow(t, controller.ChillerIn)
		x.run(2 * tick)
		if x.d.Stage != controller.Cool || !x.s.ChillerOn {
			t.Errorf("%s", x)
		}
	}
}

func TestAStandIsComeToWithoutAChillerAndNobodyIsCalledForIt(t *testing.T) {
	x := along(t, sampleConfig(), profile.Stand, controller.Connect)
	if x.d.Prompt != controller.AskCoolToStand {
		t.Errorf("prompt %v", x.d.Prompt)
	}
	x.until(t, "the stand's clock", 4*time.Hour, func() bool { return x.d.Stage == controller.Count && x.d.Reached })
	if x.count(controller.AlarmRaised, float64(controller.AlarmWaiting)) != 0 {
		t.Error("a person was called for")
	}
	near(t, "the stand begins in °C", x.k.at, 80, 0.35)
}

// A chill that gets no colder says so and goes on: a person ends it.
func TestAChillThatGetsNoColderSaysSoAndLeavesTheEndToAPerson(t *testing.T) {
	c := sampleConfig()
	c.Steps[8].Target = 10 // colder than the tap's 12 °C
	x := along(t, c, profile.Chill, controller.Connect)
	near(t, "foreseen in °C", x.value(t, controller.ChillForeseen), 14, 0)
	x.answers = true
	x.to(t, profile.Chill, controller.Cool)
	x.answers = false
	x.until(t, "said", 6*time.Hour, func() bool { return x.d.Prompt == controller.AskColdest })
	if x.k.at > 13 || len(x.times(controller.ChillPlateau)) != 1 {
		t.Errorf("said at %.1f °C with a tap of 12 °C, %d times", x.k.at, len(x.times(controller.ChillPlateau)))
	}
	x.off(t, "as cold as it gets", 29*minute, false)
	if x.d.Mode != controller.Running || x.d.Alarms[controller.AlarmWaiting] {
		t.Errorf("%s, alarms %v", x, x.d.Alarms)
	}
	x.run(2 * minute)
	if !x.d.Alarms[controller.AlarmWaiting] {
		t.Error("its water has run for half an hour in vain, and nobody is called")
	}
	asked := x.count(controller.PromptRaised, float64(controller.AskChillerOff)) // at the stand too
	x.allow(t, controller.ChillDone)
	if x.d.Mode != controller.Complete || x.count(controller.PromptRaised, float64(controller.AskChillerOff)) != asked+1 {
		t.Errorf("%s", x)
	}
}

// What has been said to be as cold as it gets may fall again, with ice on the way of
// its water: then nobody is asked any more.
func TestAChillThatFallsAgainIsNotCalledAsColdAsItGets(t *testing.T) {
	c := sampleConfig()
	c.Steps[8].Target = 8
	x := along(t, c, profile.Chill, controller.Connect)
	x.answers = true
	x.to(t, profile.Chill, controller.Cool)
	x.answers = false
	x.until(t, "said", 6*60*minute, func() bool { return x.d.Prompt == controller.AskColdest })
	for x.d.Prompt == controller.AskColdest && x.k.at > 9 {
		x.k.at -= 0.5 / 60 // K in a second
		x.k.chiller = false
		x.tick()
	}
	if x.d.Prompt != controller.NoPrompt || x.d.Mode != controller.Running {
		t.Errorf("prompt %v; %s", x.d.Prompt, x)
	}
}
