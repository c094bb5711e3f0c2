package controller_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/modulate"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/sensors"
)

// wild is a day with everything against it: wishes at random, readings that
// are missing, wrong, late or early, ticks of uneven length, trips and cuts.
type wild struct {
	*day
	r       *rand.Rand
	last    controller.Decision // of the tick before
	before  controller.State
	told    controller.Tick
	dt      time.Duration
	newest  time.Duration // instant of the newest good reading that was given
	trouble int           // what is wrong with the readings
	tally   *tally
}

// tally counts what the wild days have come across, for the vacuity gate.
type tally struct {
	ticks, on, pump    int
	modes              [8]int
	stages             [controller.Cool + 1]int
	accepted           [controller.LidOff + 1]int
	refusals           [controller.WouldBare + 1]int
	troubles           [troubles]int
	alarms             [controller.AlarmCount]int
	gaps, still, tripy int
}

// What can be wrong with a reading.
const (
	fine = iota
	missing
	frozen
	future
	past
	notANumber
	outOfRange
	jumping
	powerOn
	troubles
)

// wildConfig is a short day on a random rig.
func wildConfig(r *rand.Rand) controller.Config {
	c := sampleConfig()
	c.Power = unit.Watts(1500 + 4000*r.Float64())
	c.HasPump = r.IntN(4) > 0
	c.InBoil = r.IntN(2) == 0
	c.Boiling = unit.Celsius(88 + 12*r.Float64())
	c.Relay = modulate.Kind(r.IntN(2))
	if c.HasPump && c.InBoil && r.IntN(2) == 0 {
		c.Place = controller.Return
	}
	c.Settle = time.Duration(r.IntN(300)) * tick
	for i := range c.Count {
		if c.Steps[i].For > 0 {
			c.Steps[i].For = time.Duration(60+r.IntN(600)) * tick
		}
	}
	if r.IntN(4) == 0 {
		c.First = 1
		c.Steps[1].Kind = profile.Rest
	}
	return c
}

func newWild(seed uint64, ty *tally) *wild {
	r := seeded(seed)
	x := newDay(wildConfig(r))
	x.k.power = float64(x.core.Config.Power) * (0.8 + 0.4*r.Float64())
	x.k.lag = 5 + 60*r.Float64()
	x.k.boils = float64(x.core.Config.Boiling) + 2*r.NormFloat64()
	x.k.at, x.k.probe = 35, 35
	return &wild{day: x, r: r, newest: -time.Hour, tally: ty}
}

// tick lets a random time pass and something random happen.
func (w *wild) tick() {
	w.dt = tick
	switch w.r.IntN(400) {
	case 0:
		w.dt = time.Duration(w.r.IntN(120)) * tick
	case 1:
		w.dt = 0
	case 2:
		w.dt = -time.Duration(w.r.IntN(10)) * tick
	case 3, 4, 5, 6, 7, 8:
		w.dt = time.Duration(1+w.r.IntN(3000)) * time.Millisecond
	}
	if w.dt > 0 {
		w.k.second(w.applied()) // the toy knows whole seconds only
	}
	w.disturb()
	w.wish()
	w.last, w.before = w.d, w.s
	w.told = w.input(w.dt)
	w.told.Reading = w.reading()
	if w.told.Reading.Good() && w.told.Reading.Taken <= w.now {
		w.newest = max(w.newest, w.told.Reading.Taken)
	}
	w.step(w.told)
	w.log = w.log[:0]
}

// disturb is what the world does.
func (w *wild) disturb() {
	if w.r.IntN(90) == 0 {
		w.trouble = max(fine, w.r.IntN(2*troubles)-troubles)
	}
	if w.r.IntN(1500) == 0 {
		w.trip = controller.Stale + controller.Reason(w.r.IntN(int(controller.EnergyBudget-controller.Stale)+1))
	} else if w.trip != controller.NoReason && w.r.IntN(60) == 0 {
		w.trip = controller.NoReason
	}
	if w.r.IntN(300) == 0 {
		w.inhibited = !w.inhibited && w.r.IntN(2) == 0
	}
	if w.r.IntN(900) == 0 {
		w.weak = !w.weak
	}
	if w.r.IntN(4000) == 0 {
		w.k.at -= 4 // cold water, or grain without a word
	}
	if w.r.IntN(20000) == 0 {
		w.dt += 3 * time.Hour // nobody was there
	}
	if w.r.IntN(4000) == 0 && w.d.Mode != controller.Idle && !w.d.Mode.Ended() {
		w.s = w.s.Offer(time.Duration(w.r.IntN(3600))*tick, w.r.IntN(4) > 0) // a power cut, or a crash
		w.d.Wanted, w.d.Pump = unit.Off, unit.Off
	}
}

// wish is what persons press: most often what they are asked for.
func (w *wild) wish() {
	switch {
	case w.d.Mode == controller.Idle && w.r.IntN(5) == 0:
		w.command.Wish = controller.Start
	case w.d.Mode == controller.Offered && w.r.IntN(60) == 0:
		w.command = controller.Command{Wish: controller.TakeUp + controller.Wish(w.r.IntN(2)), Volume: 22}
	case !w.d.Mode.Ended() && w.d.Mode != controller.Running && w.r.IntN(40) == 0:
		w.command.Wish = controller.Resume
	case w.d.Mode == controller.Held && w.trip != controller.NoReason && w.r.IntN(400) == 0:
		w.command.Wish = controller.End
	case w.d.Prompt != controller.NoPrompt && w.r.IntN(120) == 0:
		w.command = w.answer()
		if w.command.Wish == controller.Drained && w.r.IntN(3) == 0 {
			w.command.Volume = 14 // so little that it is warned of
		}
	case w.s.Undo.Left > 0 && w.r.IntN(10) == 0:
		w.command.Wish = controller.UndoSkip
	case w.r.IntN(120) == 0:
		wish := controller.Wish(w.r.IntN(int(controller.LidOff) + 2))
		if wish == controller.End && w.r.IntN(30) > 0 {
			return
		}
		volume := [...]float64{0, 1, 10, 14, 22, 30, -1, math.NaN(), math.Inf(1)}[w.r.IntN(9)]
		warm := [...]float64{12, 60, 100, 0, -1, 101, math.NaN()}[w.r.IntN(7)]
		w.command = controller.Command{Wish: wish, Volume: unit.Litres(volume), At: unit.Celsius(warm), By: time.Duration(w.r.IntN(1200)-600) * tick}
	}
}

// reading is what the probe says in the trouble it is in.
func (w *wild) reading() sensors.Reading {
	w.tally.troubles[w.trouble]++
	good := sensors.Reading{Value: unit.Celsius(w.k.probe + 0.05*w.r.NormFloat64()), Taken: w.now, Fault: sensors.None}
	switch w.trouble {
	case missing:
		good.Fault = sensors.Fault(w.r.IntN(int(sensors.Bus) + 1))
		if good.Fault == sensors.None {
			good.Fault = sensors.NoReading
		}
	case frozen:
		good.Taken = w.newest
	case future:
		good.Taken += time.Duration(1 + w.r.Int64N(int64(time.Hour)))
	case past:
		good.Taken -= time.Duration(w.r.Int64N(int64(20 * tick)))
	case notANumber:
		good.Value = unit.Celsius(math.NaN())
	case outOfRange:
		good.Value = unit.Celsius([...]float64{-55, -20, 127, 1e9, math.Inf(1), math.Inf(-1)}[w.r.IntN(6)])
	case jumping:
		good.Value += unit.Celsius(40 * (w.r.Float64() - 0.5))
	case powerOn:
		good.Value = 85
	}
	return good
}

// accepted tells whether this tick's command was carried out.
func (w *wild) accepted() bool {
	return w.told.Command.Wish != controller.NoWish && w.refusal() == controller.NotRefused
}

// count adds this tick to the tally.
func (w *wild) count() {
	ty, d := w.tally, &w.d
	ty.ticks++
	ty.on += int(d.Wanted)
	ty.pump += int(d.Pump)
	ty.modes[d.Mode]++
	if d.Mode.Heats() {
		ty.stages[d.Stage]++
	}
	if wish := w.told.Command.Wish; wish > controller.NoWish && wish <= controller.LidOff {
		if why := w.refusal(); why == controller.NotRefused {
			ty.accepted[wish]++
		} else {
			ty.refusals[why]++
		}
	}
	for a, on := range d.Alarms {
		if on {
			ty.alarms[a]++
		}
	}
	if w.dt > controller.GapLimit {
		ty.gaps++
	}
	if w.dt <= 0 {
		ty.still++
	}
	if w.trip != controller.NoReason {
		ty.tripy++
	}
}

func TestWhateverHappensTheCoreKeepsItsPromises(t *testing.T) {
	ty := &tally{}
	days := uint64(180)
	if testing.Short() {
		days = 40
	}
	for seed := range days {
		w := newWild(seed, ty)
		for n := 0; n < 20000 && !w.d.Mode.Ended(); n++ {
			w.tick()
			w.check(t, seed, n)
		}
		for n := range 50 { // what has ended stays so
			w.tick()
			w.check(t, seed, 20000+n)
		}
		w.order(controller.Command{Wish: controller.Stop})
		if w.d.Mode.Heats() || w.d.Wanted == unit.On || w.d.Pump == unit.On {
			t.Fatalf("seed %d: STOP was not heard: %s", seed, w.day)
		}
		if w.order(controller.Command{Wish: controller.End}); w.d.Mode != controller.Idle && !w.d.Mode.Ended() {
			t.Fatalf("seed %d: the batch cannot be ended: %s", seed, w.day)
		}
	}
	if !testing.Short() { // too few days to meet everything
		ty.gate(t)
	}
}

// check counts the tick and holds it to every promise.
func (w *wild) check(t *testing.T, seed uint64, n int) {
	t.Helper()
	w.count()
	for _, broken := range []error{w.heatPromise(), w.pumpPromise(), w.clockPromise(), w.modePromise(), w.figurePromise()} {
		if broken != nil {
			t.Fatalf("seed %d, tick %d (%v, wish %v): %v; %s", seed, n, w.dt, w.told.Command.Wish, broken, w.day)
		}
	}
}

// gate fails the test when the wild days were too tame to prove anything.
func (ty *tally) gate(t *testing.T) {
	t.Helper()
	if share := float64(ty.on) / float64(ty.ticks); share < 0.05 {
		t.Errorf("the element was on in %.1f %% of %d ticks", 100*share, ty.ticks)
	}
	if share := float64(ty.pump) / float64(ty.ticks); share < 0.05 {
		t.Errorf("the pump ran in %.1f %% of the ticks", 100*share)
	}
	for m := controller.Idle; m <= controller.Offered; m++ {
		if ty.modes[m] == 0 {
			t.Errorf("never %v", m)
		}
	}
	for s := controller.Heat; s <= controller.Cool; s++ {
		if ty.stages[s] < 100 {
			t.Errorf("stage %v in %d ticks only", s, ty.stages[s])
		}
	}
	for wish := controller.Start; wish <= controller.LidOff; wish++ {
		if ty.accepted[wish] == 0 {
			t.Errorf("%v was never accepted", wish)
		}
	}
	for trouble, n := range ty.troubles {
		if n < 1000 {
			t.Errorf("trouble %d in %d readings only", trouble, n)
		}
	}
	for a, n := range ty.alarms {
		if n == 0 && controller.Alarm(a) != controller.AlarmNoBoil {
			t.Errorf("alarm %v never stood", controller.Alarm(a))
		}
	}
	if ty.gaps < 100 || ty.still < 100 || ty.tripy < 1000 {
		t.Errorf("%d gaps, %d ticks without time, %d with a trip", ty.gaps, ty.still, ty.tripy)
	}
	refused := 0
	for _, n := range ty.refusals {
		if n > 0 {
			refused++
		}
	}
	if refused < 10 {
		t.Errorf("only %d kinds of refusal came up: %v", refused, ty.refusals)
	}
}

func broken(format string, args ...any) error { return fmt.Errorf(format, args...) }
