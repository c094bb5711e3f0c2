package controller_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/modulate"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/sensors"
)

const (
	tick   = time.Second
	minute = time.Minute
)

// Figures of the toy kettle and of its day. Water 26 L and grain 4.6 kg, so
// that 45.8 °C of strike water lands at 44 °C: (112.9·45.8 + 7.9·18)/120.8.
const (
	boiling    = 98.8 // °C
	waterLoad  = 112.9e3
	grainLoad  = 7.9e3
	wortLoad   = 97.3e3
	vesselLoad = 4.1e3
)

// sampleConfig is a plain day with every kind of step.
func sampleConfig() controller.Config {
	c := controller.Config{
		Power: 3000, Loss: 7, Vessel: vesselLoad,
		LoadWater: waterLoad, LoadMash: waterLoad + grainLoad, LoadWort: wortLoad,
		Relay: modulate.SolidState, HasPump: true, Boiling: boiling, Room: 18, Tap: 12,
		CoveredAt: 12, AfterLift: 22.3, Settle: 5 * minute, Count: 9,
		Water: 26, Capacity: 50, Displaced: 3.1, ProbeAt: 9, Surface: 0.126,
		Grain: controller.Malt{Mass: 4.6, At: 18, Moisture: 0.04}, StrikeMost: 80,
	}
	rest := func(kind profile.Kind, target unit.Celsius, minutes int) controller.Step {
		return controller.Step{Kind: kind, Target: target, For: time.Duration(minutes) * minute, Floor: 1}
	}
	c.Steps[0] = controller.Step{Kind: profile.Strike, Target: 45.8}
	c.Steps[1] = rest(profile.MashIn, 44, 15)
	c.Steps[2] = rest(profile.Rest, 63, 35)
	c.Steps[3] = rest(profile.Rest, 71, 25)
	c.Steps[4] = rest(profile.MashOut, 77, 10)
	c.Steps[5] = controller.Step{Kind: profile.Lift}
	c.Steps[6] = controller.Step{Kind: profile.Boil, Target: boiling, For: 75 * minute, Duty: 0.8, From: 0, To: 2}
	c.Steps[7] = rest(profile.Stand, 80, 15)
	c.Steps[7].From, c.Steps[7].To = 2, 3
	c.Steps[8] = controller.Step{Kind: profile.Chill, Target: 20}
	c.Additions = [profile.MaxAdditions]time.Duration{60 * minute, 10 * minute, 5 * minute}
	return c
}

// toy is the test's own kettle: one lump that a probe follows with a lag. It
// boils where the core thinks it does, unless told otherwise.
type toy struct {
	load, loss, power, room float64
	boils                   float64 // boiling point
	lag                     float64 // s, of the probe
	at, probe               float64 // °C
	chiller                 bool
	offset, noise           float64 // of the probe
}

func (k *toy) second(on unit.Relay) {
	power := -k.loss * (k.at - k.room)
	if on == unit.On {
		power += k.power
	}
	if k.chiller {
		power -= 300 * (k.at - 12)
	}
	k.at = min(k.at+power/k.load, k.boils)
	k.probe += (k.at - k.probe) / k.lag
}

// mix puts in something of another load and temperature.
func (k *toy) mix(load, at float64) {
	k.at = (k.at*k.load + at*load) / (k.load + load)
	k.load += load
}

// day is a batch on the toy kettle, second by second. It is a plain value but
// for its log: copy it with from.
type day struct {
	core controller.Core
	s    controller.State
	d    controller.Decision
	k    toy
	now  time.Duration
	log  []logged

	command   controller.Command
	proposal  controller.Proposal
	inhibited bool
	weak      bool
	trip      controller.Reason
	mute      bool // the probe gives nothing
	random    *rand.Rand
	answers   bool // a person answers every prompt at once
}

type logged struct {
	at time.Duration
	controller.Event
}

func newDay(c controller.Config) *day {
	return &day{
		core: controller.Core{Config: c}, s: controller.Initial(),
		k: toy{load: waterLoad, loss: 7, power: 3000, room: 18, boils: boiling, lag: 10, at: 18, probe: 18},
	}
}

// from is another day that goes on from this one.
func (x *day) from() *day {
	y := *x
	y.log = slices.Clone(x.log)
	return &y
}

// input is what the core is told in the coming tick.
func (x *day) input(dt time.Duration) controller.Tick {
	x.now += dt
	if x.answers && x.command.Wish == controller.NoWish {
		x.command = x.answer()
	}
	r := sensors.Reading{Taken: x.now, Fault: sensors.Open}
	if !x.mute {
		v := x.k.probe + x.k.offset
		if x.random != nil {
			v += x.k.noise * x.random.NormFloat64()
		}
		r = sensors.Reading{Value: unit.Celsius(v), Taken: x.now, Fault: sensors.None}
	}
	t := controller.Tick{
		Now: x.now, Reading: r, Applied: x.applied(), Inhibited: x.inhibited, Trip: x.trip, Weak: x.weak,
		Command: x.command, Proposal: x.proposal,
	}
	x.command, x.proposal = controller.Command{}, controller.Proposal{}
	return t
}

// applied is what the element does: what was wanted, unless it is withheld.
func (x *day) applied() unit.Relay {
	if x.inhibited || x.trip != controller.NoReason {
		return unit.Off
	}
	return x.d.Wanted
}

// tick lets a second pass.
func (x *day) tick() controller.Decision {
	x.k.second(x.applied())
	return x.step(x.input(tick))
}

func (x *day) step(t controller.Tick) controller.Decision {
	x.s, x.d = x.core.Step(x.s, t)
	for _, e := range x.d.Events[:x.d.Count] {
		x.log = append(x.log, logged{x.now, e})
	}
	return x.d
}

// answer is what a person presses, having done it.
func (x *day) answer() controller.Command {
	wish := controller.NoWish
	switch x.d.Prompt {
	case controller.AskPour:
		wish = controller.PouringNow
	case controller.AskGrainIn:
		x.k.mix(grainLoad, 18)
		wish = controller.GrainIn
	case controller.AskLift:
		wish = controller.LiftingNow
	case controller.AskBagClear:
		x.k.load = wortLoad
		wish = controller.BagClear
	case controller.AskDrained:
		return controller.Command{Wish: controller.Drained, Volume: 22.3}
	case controller.AskHereLidOff:
		wish = controller.HereLidOff
	case controller.AskChiller, controller.AskChillerWater, controller.AskCoolToStand:
		x.k.chiller = true
		wish = controller.ChillerIn
	case controller.AskScald: // hung in cold, its water off
		wish = controller.ChillerIn
	case controller.AskColdest:
		wish = controller.ChillDone
	}
	if !x.s.ChillerOn && wish == controller.NoWish {
		x.k.chiller = false
	}
	return controller.Command{Wish: wish}
}

// run lets time pass.
func (x *day) run(d time.Duration) *day {
	for end := x.now + d; x.now < end; {
		x.tick()
	}
	return x
}

// until lets time pass until something is so; it fails the test when that takes
// longer than most.
func (x *day) until(t testing.TB, what string, most time.Duration, so func() bool) *day {
	t.Helper()
	for end := x.now + most; !so(); {
		if x.now >= end {
			t.Fatalf("not %s within %v: %s", what, most, x)
		}
		x.tick()
	}
	return x
}

// to lets time pass until a stage.
func (x *day) to(t testing.TB, kind profile.Kind, stage controller.Stage) *day {
	t.Helper()
	return x.until(t, kind.String()+" "+stage.String(), 8*time.Hour, func() bool { return x.in(kind, stage) })
}

func (x *day) in(kind profile.Kind, stage controller.Stage) bool {
	return x.d.Kind == kind && x.d.Stage == stage && x.d.Mode != controller.Idle
}

// press gives one wish with the next tick and tells the answer.
func (x *day) press(w controller.Wish) controller.Refusal {
	return x.order(controller.Command{Wish: w})
}

func (x *day) order(c controller.Command) controller.Refusal {
	x.command = c
	x.tick()
	return x.refusal()
}

// refusal is the answer to the command of the last tick.
func (x *day) refusal() controller.Refusal {
	for _, e := range x.d.Events[:x.d.Count] {
		if e.Kind == controller.Refused {
			return controller.Refusal(e.Value)
		}
	}
	return controller.NotRefused
}

// allow fails the test unless the wish is accepted.
func (x *day) allow(t testing.TB, w controller.Wish) *day {
	t.Helper()
	if why := x.press(w); why != controller.NotRefused {
		t.Fatalf("%v refused: %v; %s", w, why, x)
	}
	return x
}

// refuse fails the test unless the wish is refused for that reason.
func (x *day) refuse(t testing.TB, c controller.Command, want controller.Refusal) {
	t.Helper()
	if why := x.order(c); why != want {
		t.Errorf("%v answered with %q, want %q; %s", c.Wish, why, want, x)
	}
}

// times is when an event happened.
func (x *day) times(kind controller.EventKind) (at []time.Duration) {
	for _, l := range x.log {
		if l.Kind == kind {
			at = append(at, l.at)
		}
	}
	return at
}

// count is how often an event with this value happened.
func (x *day) count(kind controller.EventKind, value float64) (n int) {
	for _, l := range x.log {
		if l.Kind == kind && l.Value == value {
			n++
		}
	}
	return n
}

// off fails the test if the element or, with pump, the pump is wanted at any
// time of the coming span.
func (x *day) off(t testing.TB, what string, span time.Duration, pumpToo bool) {
	t.Helper()
	for end := x.now + span; x.now < end; {
		x.tick()
		if x.d.Wanted == unit.On || x.d.Duty != 0 || pumpToo && x.d.Pump == unit.On {
			t.Fatalf("%s: element %v, pump %v; %s", what, x.d.Wanted, x.d.Pump, x)
		}
	}
}

// heats fails the test unless the element is on at least once in the span.
func (x *day) heats(t testing.TB, what string, span time.Duration) {
	t.Helper()
	for end := x.now + span; x.now < end; {
		if x.tick().Wanted == unit.On {
			return
		}
	}
	t.Fatalf("%s: no heat within %v; %s", what, span, x)
}

func (x *day) String() string {
	return fmt.Sprintf("at %v: %v (%v), step %d %v %v, earned %v, %.2f °C", x.now, x.d.Mode, x.d.Reason, x.d.Index,
		x.d.Kind, x.d.Stage, x.d.Earned, x.k.at)
}

// started is a day that has just been armed.
func started(t testing.TB, c controller.Config) *day {
	t.Helper()
	x := newDay(c)
	x.tick()
	x.allow(t, controller.Start)
	return x
}

// along is a day with a person at hand, taken to a stage.
func along(t testing.TB, c controller.Config, kind profile.Kind, stage controller.Stage) *day {
	t.Helper()
	x := started(t, c)
	x.answers = true
	x.to(t, kind, stage)
	x.answers = false
	return x
}

func near(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !(got-want <= tolerance && want-got <= tolerance) {
		t.Errorf("%s = %.5g, want %.5g within %.2g", what, got, want, tolerance)
	}
}
