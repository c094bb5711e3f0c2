package controller_test

import (
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
)

// outage is how long the days below are without a process.
const outage = 12 * minute

// offered is the day after a power cut: a new process, whose run clock begins
// anew, and a kettle that has cooled.
func offered(before *day) *day {
	x := before.from()
	for range int(outage / tick) {
		x.k.second(unit.Off)
	}
	x.s, x.now, x.log = x.s.Offer(outage, true), 0, nil
	return x.run(20 * tick)
}

// TestAnOfferedBatchHeatsNothingUntilAPersonSaysSo, whatever it was doing.
func TestAnOfferedBatchHeatsNothingUntilAPersonSaysSo(t *testing.T) {
	for situation, before := range situations(t) {
		if before.d.Mode == controller.Idle || before.d.Mode.Ended() {
			continue
		}
		x := offered(before)
		if x.d.Mode != controller.Offered || x.d.Reason != controller.PowerCut || x.d.Armed {
			t.Errorf("%s: %s", situation, x)
		}
		x.off(t, situation+" offered", 5*minute, true)
		if x.d.Earned != before.d.Earned || x.d.Clock != before.d.Clock || x.d.Index != before.d.Index || x.d.Stage != before.d.Stage {
			t.Errorf("%s: earned %v, clock %v, step %d; had %v, %v, %d", situation,
				x.d.Earned, x.d.Clock, x.d.Index, before.d.Earned, before.d.Clock, before.d.Index)
		}
		want := controller.AskTakeUp
		if x.trip != controller.NoReason {
			want = controller.AskLookAtFault
		}
		if x.d.Prompt != want {
			t.Errorf("%s: prompt %v", situation, x.d.Prompt)
		}
		from := before.d.Mode
		if before.s.Mode == controller.Offered {
			from = before.s.Outage.From
		}
		if x.s.Outage.From != from || !x.s.Outage.Known || x.s.Outage.Length < outage+5*minute {
			t.Errorf("%s: outage %+v", situation, x.s.Outage)
		}
		x.allow(t, controller.End)
		if !x.d.Mode.Ended() {
			t.Errorf("%s: ended, and %v", situation, x.d.Mode)
		}
	}
}

// A rest that has fallen out of its band is heated up again before its clock
// goes on, with what it had; the outage is no waiting for a person either.
func TestARestThatCooledInTheOutageIsHeatedAndThenCountsOn(t *testing.T) {
	x := along(t, sampleConfig(), profile.Rest, controller.Count).run(10 * minute)
	x = offered(x)
	target := x.s.Steps[x.s.Index].Target
	earned := x.d.Earned
	x.k.at, x.k.probe = float64(target)-4, float64(target)-4
	x.run(minute)
	if got := x.order(command(controller.TakeUp)); got != controller.NotRefused {
		t.Fatal(got)
	}
	if x.count(controller.TakenUp, float64(controller.TakeUp)) != 1 || x.d.Phase != controller.Heating || x.d.Reason != controller.NoReason {
		t.Errorf("%s, phase %v", x, x.d.Phase)
	}
	x.until(t, "the clock runs again", 20*minute, func() bool {
		if x.d.Alarms[controller.AlarmCold] || x.d.Prompt == controller.AskCold {
			t.Fatalf("it asks about the cold while it heats up: %s", x)
		}
		return x.d.Earned > earned
	})
	if x.d.Estimate < target-0.35 || x.d.Earned > earned+2*tick {
		t.Errorf("the clock runs from %v on at %.2f °C, target %.1f", x.d.Earned, x.d.Estimate, target)
	}
	x.until(t, "the next step", time.Hour, func() bool { return x.d.Kind != profile.Rest || x.d.Index != x.s.Index || x.d.Earned < earned })
}

// A rest still in its band goes on at once.
func TestARestStillInItsBandCountsOnAtOnce(t *testing.T) {
	x := along(t, sampleConfig(), profile.Rest, controller.Count).run(10 * minute)
	earned := x.d.Earned
	x.s, x.now = x.s.Offer(20*tick, true), 0
	x.run(20 * tick)
	if got := x.order(command(controller.TakeUp)); got != controller.NotRefused {
		t.Fatal(got)
	}
	x.run(minute)
	if x.d.Earned < earned+55*tick || x.d.Earned > earned+62*tick {
		t.Errorf("earned %v, had %v", x.d.Earned, earned)
	}
}

// What a person has said about being there does not outlive a power cut.
func TestABoilAsksForAPersonAgain(t *testing.T) {
	x := along(t, sampleConfig(), profile.Boil, controller.Boil).run(10 * minute)
	earned := x.d.Earned
	x = offered(x)
	if got := x.order(command(controller.TakeUp)); got != controller.NotRefused {
		t.Fatal(got)
	}
	x.until(t, "asked whether somebody is there", time.Hour, func() bool { return x.d.Stage == controller.Door })
	x.run(10 * minute)
	if x.d.Stage != controller.Door || x.d.Earned != earned {
		t.Errorf("%s, earned %v, had %v", x, x.d.Earned, earned)
	}
}

// In the break, minutes after somebody said that he was there: he may have gone
// for the fuse box.
func TestBeingThereDoesNotOutliveAPowerCut(t *testing.T) {
	x := along(t, sampleConfig(), profile.Boil, controller.Break)
	if x.s.HereFor == 0 {
		t.Fatal("nobody was there before")
	}
	x.s, x.now = x.s.Offer(20*tick, true), 0
	x.run(20 * tick)
	if got := x.order(command(controller.TakeUp)); got != controller.NotRefused {
		t.Fatal(got)
	}
	x.until(t, "asked whether somebody is there", time.Hour, func() bool { return x.d.Prompt == controller.AskHereLidOff })
	x.run(5 * minute)
	if x.d.Stage != controller.Door {
		t.Errorf("%s", x)
	}
}

// The volume is stated anew. After the lift it takes the place of the balance.
func TestGoingOnNeedsAVolumeThatCoversTheElement(t *testing.T) {
	c := sampleConfig()
	c.Water = 26
	for _, at := range []struct {
		kind  profile.Kind
		stage controller.Stage
	}{{profile.Rest, controller.Count}, {profile.Boil, controller.Boil}} {
		x := offered(along(t, c, at.kind, at.stage).run(5 * minute))
		for volume, want := range map[unit.Litres]controller.Refusal{
			0: controller.NeedsFigure, -3: controller.NeedsFigure, 60: controller.NeedsFigure,
			12: controller.ElementBare, 20: controller.NotRefused,
		} {
			y := x.from()
			y.refuse(t, controller.Command{Wish: controller.TakeUp, Volume: volume}, want)
			if heats := y.d.Mode.Heats(); heats != (want == controller.NotRefused) {
				t.Errorf("%v, %v L: %v", at.kind, volume, y.d.Mode)
			}
			if want == controller.NotRefused && at.kind == profile.Boil && (y.d.Volume != 20 || y.s.Boiled != 0) {
				t.Errorf("stated 20 L: %v L, %v boiled", y.d.Volume, y.s.Boiled)
			}
		}
	}
}

// Two outages are one: lengths add up, and it is not known any more what one
// clock did not tell. What the batch did before the first is kept.
func TestASecondOutageAddsToTheFirst(t *testing.T) {
	x := along(t, sampleConfig(), profile.Rest, controller.Count)
	first := x.s.Offer(10*minute, true)
	again := first.Offer(5*minute, true)
	if again.Outage.Length != 15*minute || !again.Outage.Known || again.Outage.From != controller.Running || again.Outage.At != first.Outage.At {
		t.Errorf("%+v after %+v", again.Outage, first.Outage)
	}
	if dark := again.Offer(0, false).Offer(minute, true); dark.Outage.Known {
		t.Errorf("known: %+v", dark.Outage)
	}
	if back := x.s.Offer(-minute, true); back.Outage.Length != 0 {
		t.Errorf("an outage of %v", back.Outage.Length)
	}
}

// By itself it goes on in the mash only, and only a batch that ran, with a
// reading, within its arming.
func TestByItselfABatchGoesOnInTheMashOnly(t *testing.T) {
	taken := 0
	for situation, before := range situations(t) {
		if before.d.Mode == controller.Idle || before.d.Mode.Ended() || before.d.Mode == controller.Offered {
			continue
		}
		x := offered(before)
		want := controller.NotAlone
		switch mash := x.d.Kind <= profile.MashOut; {
		case x.trip != controller.NoReason:
			want = controller.TripStands
		case mash && before.d.Mode == controller.Running && !before.s.AskedGrain:
			want = controller.NotRefused
			taken++
		}
		if got := x.order(command(controller.TakeUpAlone)); got != want {
			t.Errorf("%s: %q, want %q", situation, got, want)
		}
	}
	if taken < 5 {
		t.Errorf("only %d situations were taken up", taken)
	}
	x := along(t, sampleConfig(), profile.Rest, controller.Count)
	y := x.from()
	y.s = y.s.Offer(controller.ArmedFor, true)
	y.refuse(t, command(controller.TakeUpAlone), controller.ArmingOver)
	x.s, x.now, x.mute = x.s.Offer(minute, true), 0, true
	x.run(minute)
	x.refuse(t, command(controller.TakeUpAlone), controller.NotAlone)
}

// TestWhatStoodThroughAnOutageIsTurnedOverBeforeItIsHeated: bed, wort and hose have
// cooled each in its own way, and a reading of one of them is no reading of the mash.
func TestWhatStoodThroughAnOutageIsTurnedOverBeforeItIsHeated(t *testing.T) {
	x := resting(t)
	x.s = x.s.Offer(10*minute, true)
	x.k.at, x.k.probe = 61, 61
	x.run(20 * tick)
	if got := x.order(controller.Command{Wish: controller.TakeUp, Volume: 26}); got != controller.NotRefused {
		t.Fatal(got)
	}
	since := x.now
	x.until(t, "the pump runs", minute, func() bool { return x.d.Pump == unit.On })
	x.until(t, "heat", 5*minute, func() bool { return x.d.Wanted == unit.On })
	if waited := x.now - since; waited < 2*controller.MixTime || waited > 2*controller.MixTime+2*controller.PumpWarning {
		t.Errorf("heat %v after it was taken up; want it when the pump has run for %v", waited, 2*controller.MixTime)
	}
}
