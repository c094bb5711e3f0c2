package controller_test

import (
	"strings"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
)

// answers is what each letter of the table below stands for.
var answers = map[string]controller.Refusal{
	".": controller.NotRefused,
	"m": controller.WrongMode, "s": controller.WrongStage,
	"N": controller.GrainNotIn, "G": controller.GrainStillIn,
	"t": controller.TripStands, "l": controller.TooLate,
	"b": controller.NothingBefore, "c": controller.NoClock,
	"a": controller.AlreadyStarted, "A": controller.NotAlone, "P": controller.AlreadyPoured, "r": controller.NoRest, "n": controller.NothingLate,
}

// wishes are the columns.
var wishes = [...]controller.Wish{
	controller.Start, controller.PouringNow, controller.GrainIn, controller.NoGrain,
	controller.LiftingNow, controller.BagClear, controller.Drained,
	controller.HereLidOff, controller.ItBoils, controller.ChillerIn, controller.AdditionDone, controller.GoOn,
	controller.Pause, controller.Resume, controller.Skip, controller.UndoSkip, controller.StepBack, controller.Extend,
	controller.PumpOff, controller.PumpOn, controller.RestBed,
	controller.Stop, controller.End, controller.ClearTrip,
	controller.TakeUp, controller.TakeUpAlone,
	controller.Added, controller.TookOut, controller.VolumeIs, controller.LidOn, controller.LidOff,
	controller.PumpStands, controller.GrainIs, controller.ThermometerSays, controller.PHIs, controller.GravityIs,
	controller.Retarget,
	controller.ExtendByDelay, controller.ChillDone,
}

// What is answered to each wish in each situation of a day.
//
//	start pouring grain-in no-grain | lifting bag-clear drained | here boils chiller done go-on |
//	pause resume skip undo back extend | pump-off pump-on rest-bed | stop end clear-trip |
//	take-up take-up-alone | added took-out volume-is lid-on lid-off |
//	pump-stands grain-is thermometer-says ph-is gravity-is | retarget by-delay chill-done
var table = []struct{ situation, row string }{
	{"idle", "        . m m m  m m m  m m m . m  m m m m m m  . . m  . m .  m m  m m m m m  m m m m m  m m m"},
	{"strike/heat", " a . . s  s s s  s s s . s  . m N l b c  . . s  . . .  m m  . . . . .  . . . . .  r n s"},
	{"strike/ready", "a . . s  s s s  s s s . s  . m N l b c  . . s  . . .  m m  . . . . .  . . . . .  r n s"},
	{"strike/asked", "a s . .  s s s  s s s . s  . m N l b c  . . s  . . .  m m  . . . . .  . P . . .  r n s"},
	{"mash-in/pour", "a s . .  s s s  s s s . s  . m N l s .  . . s  . . .  m m  . . s . .  . P . . .  r n s"},
	{"mash-in/settle", "a s s s s s s  s s s . s  . m s l s .  . . s  . . .  m m  . . . . .  . P . . .  r n s"},
	{"mash-in/mix", " a s s s  s s s  s s s . s  . m s l s .  . . s  . . .  m m  . . . . .  . P . . .  r n s"},
	{"mash-in/count", "a s s s s s s  s s s . s  . m . l s .  . . .  . . .  m m  . . . . .  . P . . .  r n s"},
	{"rest/heat", "   a s s s  s s s  s s s . s  . m . l . .  . . .  . . .  m m  . . . . .  . P . . .  . n s"},
	{"rest/count", "  a s s s  s s s  s s s . s  . m . l . .  . . .  . . .  m m  . . . . .  . P . . .  . n s"},
	{"rest/cold", "   a s s s  s s s  s s s . .  . m . l . .  . . .  . . .  m m  . . . . .  . P . . .  . n s"},
	{"mash-out/count", "a s s s s s s  s s s . s  . m . l . .  . . .  . . .  m m  . . . . .  . P . . .  . n s"},
	{"lift/ready", "  a s s s  . . s  s s s . s  . m G l . c  . . s  . . .  m m  . . . . .  . P . . .  r n s"},
	{"lift/hoist", "  a s s s  s . s  s s s . s  . m G l . c  . . s  . . .  m m  s s s . .  . P . . .  r n s"},
	{"lift/drain", "  a s s s  s s .  s s s . s  . m G l s c  . . s  . . .  m m  . . s . .  . P . . .  r n s"},
	{"boil/climb", "  a s s s  s s s  . s s . s  . m . l s .  . . s  . . .  m m  . . . . .  . P . . .  r n s"},
	{"boil/door", "   a s s s  s s s  . . s . s  . m . l s .  . . s  . . .  m m  . . . . .  . P . . .  r n s"},
	{"boil/break", "  a s s s  s s s  s . s . s  . m . l s .  . . s  . . .  m m  . . . . .  . P . . .  r n s"},
	{"boil/boil", "   a s s s  s s s  s s . . s  . m . l s .  . . s  . . .  m m  . . . . .  . P . . .  r n s"},
	{"stand/connect", "a s s s  s s s  s s . . s  . m . l s .  . . s  . . .  m m  . . . . .  . P . . .  r n s"},
	{"stand/cool", "  a s s s  s s s  s s . . s  . m . l s .  . . s  . . .  m m  . . . . .  . P . . .  r n s"},
	{"stand/count", " a s s s  s s s  s s s . s  . m . l s .  . . s  . . .  m m  . . . . .  . P . . .  r n s"},
	{"chill/connect", "a s s s  s s s  s s . . s  . m . l s c  . . s  . . .  m m  . . . . .  . P . . .  r n ."},
	{"chill/cool", "  a s s s  s s s  s s . . s  . m . l s c  . . s  . . .  m m  . . . . .  . P . . .  r n ."},
	{"paused", "      a m m m  m m m  m m m . m  m . m m m m  . . m  . . .  m m  . . . . .  . P . . .  m m m"},
	{"held", "        a m m m  m m m  m m m . m  m . m m m m  . . m  . . .  m m  . . . . .  . P . . .  m m m"},
	{"held/trip", "   a m m m  m m m  m m m . m  m t m m m m  . . m  . . .  m m  . . . . .  . P . . .  m m m"},
	{"offered", "a m m m  m m m  m m m . m  m m m m m m  . . m  . . .  . .  m m m m m  m m m m m  m m m"},
	{"offered/held", "a m m m  m m m  m m m . m  m m m m m m  . . m  . . .  . A  m m m m m  m m m m m  m m m"},
	{"offered/trip", "a m m m  m m m  m m m . m  m m m m m m  . . m  . . .  t t  m m m m m  m m m m m  m m m"},
	{"offered/boil", "a m m m  m m m  m m m . m  m m m m m m  . . m  . . .  . A  m m m m m  m m m m m  m m m"},
	{"complete", "    a m m m  m m m  m m m . m  m m m m m m  . . m  . m .  m m  m m m m m  m m m m m  m m m"},
	{"stopped", "     a m m m  m m m  m m m . m  m m m m m m  . . m  . m .  m m  m m m m m  m m m m m  m m m"},
	{"aborted", "     a m m m  m m m  m m m . m  m m m m m m  . . m  . m .  m m  m m m m m  m m m m m  m m m"},
}

// situations are days taken to each row of the table.
func situations(t *testing.T) map[string]*day {
	t.Helper()
	all := map[string]*day{"idle": newDay(sampleConfig()).run(5 * tick)}
	x := started(t, sampleConfig())
	x.answers = true
	var last string
	x.until(t, "complete", 12*time.Hour, func() bool {
		if now := x.d.Kind.String() + "/" + x.d.Stage.String(); now != last && !x.d.Mode.Ended() {
			last = now
			if all[now] == nil {
				y := x.from()
				y.answers = false
				all[now] = y
			}
		}
		return x.d.Mode.Ended()
	})
	x.answers = false
	all["complete"] = x
	all["strike/asked"] = poured(t)
	all["rest/cold"] = cold(t)
	resting := all["rest/count"]
	all["paused"] = resting.from().allow(t, controller.Pause)
	all["held"] = resting.from().allow(t, controller.Stop)
	y := resting.from()
	y.trip = controller.OverTemperature
	all["held/trip"] = y.run(tick)
	all["offered"] = offered(resting)
	all["offered/held"] = offered(all["held"])
	all["offered/trip"] = offered(all["held/trip"])
	all["offered/boil"] = offered(all["boil/boil"])
	all["stopped"] = resting.from().allow(t, controller.End)
	all["aborted"] = all["held/trip"].from().allow(t, controller.End)
	return all
}

// poured is a day on which grain went in without a press.
func poured(t testing.TB) *day {
	t.Helper()
	x := along(t, sampleConfig(), profile.Strike, controller.Ready).run(minute)
	x.k.mix(grainLoad, 18)
	return x.until(t, "asked", minute, func() bool { return x.d.Prompt == controller.AskDidGrainGo })
}

// cold is a rest whose clock has stood still for ten minutes.
func cold(t testing.TB) *day {
	t.Helper()
	x := along(t, sampleConfig(), profile.Rest, controller.Count)
	x.k.at -= 5
	x.inhibited = true // heat is withheld, and so it stays cold
	return x.until(t, "asked about the cold", 15*minute, func() bool { return x.d.Prompt == controller.AskCold })
}

func command(w controller.Wish) controller.Command {
	c := controller.Command{Wish: w}
	switch w {
	case controller.Drained, controller.TakeUp:
		c.Volume = 22.3
	case controller.Extend:
		c.By = 5 * minute
	case controller.Added, controller.TookOut:
		c.Volume, c.At = 2, 20
	case controller.VolumeIs:
		c.Volume, c.At = 23, 20
	case controller.GrainIs:
		c.Grain, c.At = 4.5, 16
	case controller.ThermometerSays:
		c.At = 63
	case controller.PHIs:
		c.Value, c.At = 5.4, 20
	case controller.GravityIs:
		c.Value, c.At = 1.046, 20
	case controller.Retarget:
		c.At = 60
	}
	return c
}

func TestEveryWishIsAnsweredInEverySituationAsTheTableSays(t *testing.T) {
	all := situations(t)
	rows := map[string]bool{}
	for _, r := range table {
		rows[r.situation] = true
		cells := strings.Fields(r.row)
		if len(cells) != len(wishes) {
			t.Fatalf("%s has %d cells, want %d", r.situation, len(cells), len(wishes))
		}
		if all[r.situation] == nil {
			t.Errorf("no day comes to %s", r.situation)
			continue
		}
		for i, cell := range cells {
			x := all[r.situation].from()
			if got := x.order(command(wishes[i])); got != answers[cell] {
				t.Errorf("%s: %v answered with %q, want %q", r.situation, wishes[i], got, answers[cell])
			}
		}
	}
	for situation := range all {
		if !rows[situation] && !strings.HasSuffix(situation, "/heat") && !strings.HasSuffix(situation, "/count") {
			t.Errorf("the table says nothing about %s", situation)
		}
	}
}

func TestARefusedWishChangesNothing(t *testing.T) {
	tried := 0
	for situation, before := range situations(t) {
		for w := controller.NoWish + 1; w < controller.ChillDone+3; w++ {
			with, without := before.from(), before.from()
			if with.order(command(w)) == controller.NotRefused {
				continue
			}
			without.tick()
			tried++
			if with.s != without.s {
				t.Errorf("%s: refused %v has changed the state", situation, w)
			}
		}
	}
	if tried < 300 {
		t.Errorf("only %d wishes were refused", tried)
	}
}

func TestAWishThatDoesNotExistIsRefused(t *testing.T) {
	for situation, x := range situations(t) {
		for _, w := range []controller.Wish{controller.ChillDone + 1, 100, 255} {
			if x.from().press(w) == controller.NotRefused {
				t.Errorf("%s: wish %d accepted", situation, w)
			}
		}
	}
}

func TestStopIsOffInTheSameTickInEverySituation(t *testing.T) {
	for situation, before := range situations(t) {
		x := before.from()
		running := x.d.Mode.Heats()
		x.allow(t, controller.Stop)
		if x.d.Wanted == unit.On || x.d.Duty != 0 || x.d.Pump == unit.On || x.d.Armed {
			t.Errorf("%s: element %v, pump %v, armed %v in the tick of STOP", situation, x.d.Wanted, x.d.Pump, x.d.Armed)
		}
		if running && (x.d.Mode != controller.Held || x.d.Reason != controller.ByOperator) {
			t.Errorf("%s: after STOP %v (%v)", situation, x.d.Mode, x.d.Reason)
		}
		x.off(t, situation+" after STOP", minute, true)
	}
}

func TestEveryRefusalAndEveryWordHasAText(t *testing.T) {
	for r := controller.WrongMode; r <= controller.NothingLate; r++ {
		if s := r.String(); s == "" || s == "unknown" {
			t.Errorf("refusal %d says %q", r, s)
		}
	}
	for w := controller.Start; w <= controller.ChillDone; w++ {
		if s := w.String(); s == "" || s == "unknown" {
			t.Errorf("wish %d says %q", w, s)
		}
	}
	for r := controller.ByOperator; r <= controller.LineLost; r++ {
		if s := r.String(); s == "" || s == "unknown" {
			t.Errorf("reason %d says %q", r, s)
		}
	}
	for k := controller.BatchStarted; k <= controller.ChillForeseen; k++ {
		if s := k.String(); s == "" || s == "unknown" {
			t.Errorf("event %d says %q", k, s)
		}
	}
	for p := controller.AskPour; p <= controller.AskTakeUp; p++ {
		if s := p.String(); s == "" || s == "unknown" {
			t.Errorf("prompt %d says %q", p, s)
		}
	}
	for s := controller.Heat; s <= controller.Quiet; s++ {
		if s.String() == "" || s.String() == "unknown" {
			t.Errorf("stage %d has no word", s)
		}
	}
	for a := range controller.AlarmCount {
		if s := controller.Alarm(a).String(); s == "" || s == "unknown" {
			t.Errorf("alarm %d has no id", a)
		}
	}
	if controller.Refusal(200).String() != "unknown" || controller.Mode(200).String() != "unknown" {
		t.Error("a value that does not exist has a word")
	}
}

func TestARigWithoutAPumpRefusesItsWishes(t *testing.T) {
	c := sampleConfig()
	c.HasPump = false
	x := along(t, c, profile.Rest, controller.Count)
	for _, w := range []controller.Wish{controller.PumpOff, controller.PumpOn, controller.RestBed} {
		x.refuse(t, command(w), controller.NoPump)
	}
}

func TestABatchDoesNotStartWhileATripStands(t *testing.T) {
	x := newDay(sampleConfig()).run(5 * tick)
	x.trip = controller.HeatingWhileOff
	x.refuse(t, command(controller.Start), controller.TripStands)
	if x.d.Mode != controller.Idle || x.d.Wanted == unit.On {
		t.Errorf("%s", x)
	}
	x.trip = controller.NoReason
	x.allow(t, controller.Start)
}

func TestATripHoldsTheBatchWithItsReasonAndOnlyItsEndLetsItGoOn(t *testing.T) {
	for why := controller.Stale; why <= controller.EnergyBudget; why++ {
		x := along(t, sampleConfig(), profile.Rest, controller.Count).run(5 * minute)
		earned := x.d.Earned
		x.trip = why
		x.tick()
		if x.d.Mode != controller.Held || x.d.Reason != why || x.d.Wanted == unit.On || x.d.Pump == unit.On {
			t.Errorf("trip %v: %s", why, x)
		}
		x.off(t, "held by a trip", minute, true)
		x.refuse(t, command(controller.Resume), controller.TripStands)
		if x.d.Prompt != controller.AskLookAtFault {
			t.Errorf("prompt %v", x.d.Prompt)
		}
		x.trip = controller.NoReason
		x.off(t, "held after the trip was cleared", minute, true)
		if x.d.Mode != controller.Held || x.d.Reason != why {
			t.Errorf("cleared: %s", x)
		}
		x.allow(t, controller.Resume)
		if x.d.Mode != controller.Running || x.d.Reason != controller.NoReason || x.d.Earned < earned || x.d.Earned > earned+2*tick {
			t.Errorf("resumed with %v earned, had %v: %s", x.d.Earned, earned, x)
		}
	}
}

func TestATripTakesAPausedBatchToo(t *testing.T) {
	x := along(t, sampleConfig(), profile.Rest, controller.Count)
	x.allow(t, controller.Pause)
	x.trip = controller.OverTemperature
	x.tick()
	if x.d.Mode != controller.Held || x.d.Reason != controller.OverTemperature {
		t.Errorf("%s", x)
	}
}

func TestEndingIsStoppedWithoutATripAndAbortedWithOne(t *testing.T) {
	x := along(t, sampleConfig(), profile.Rest, controller.Count)
	y := x.from().allow(t, controller.End)
	if y.d.Mode != controller.Stopped || y.d.Reason != controller.ByOperator {
		t.Errorf("%s", y)
	}
	z := x.from()
	z.trip = controller.ProbeStuck
	z.tick()
	z.allow(t, controller.End)
	if z.d.Mode != controller.Aborted || z.d.Reason != controller.ProbeStuck {
		t.Errorf("%s", z)
	}
}

func TestAnArmingThatHasRunOutHoldsTheBatchForGood(t *testing.T) {
	c := sampleConfig()
	c.Steps[2].For = 13 * time.Hour
	x := along(t, c, profile.Rest, controller.Count)
	x.until(t, "held", 12*time.Hour, func() bool { return x.d.Mode == controller.Held })
	if x.d.Clock < controller.ArmedFor || x.d.Clock > controller.ArmedFor+2*tick || x.d.Reason != controller.NotArmed {
		t.Errorf("%s, clock %v", x, x.d.Clock)
	}
	x.refuse(t, command(controller.Resume), controller.ArmingOver)
	x.off(t, "after the arming has run out", minute, true)
	x.allow(t, controller.End)
}
