package controller_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/invariant"
	"mashward/controller/loop"
	"mashward/controller/modulate"
	"mashward/controller/observer"
	"mashward/controller/unit"
	"mashward/deploy/explore"
	"mashward/profile"
	"mashward/profile/gravity"
	"mashward/sensors"
)

var night = flag.Bool("night", false, "the properties on ten times as many random days, with another seed each time")

// wild is a day with everything against it: wishes at random, readings that
// are missing, wrong, late or early, ticks of uneven length, trips and cuts,
// proposals and power cuts.
type wild struct {
	*day
	r       *rand.Rand          // jitter of what is not drawn one by one
	last    controller.Decision // of the tick before
	before  controller.State
	told    controller.Tick
	dt      time.Duration
	newest  time.Duration // instant of the newest good reading that was given
	trouble int           // what is wrong with the readings
	checker invariant.Checker
	tally   *tally
}

// tally counts what the wild days have come across, for the vacuity gate.
type tally struct {
	ticks, pump        int
	forgotten          int // pauses that nobody ended
	stages             [controller.Cool + 1]int
	accepted           [controller.ChillDone + 1]int
	refusals           [controller.NothingLate + 1]int
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
func wildConfig(t *rapid.T) controller.Config {
	c := sampleConfig()
	c.Power = unit.Watts(rapid.IntRange(1500, 5500).Draw(t, "power"))
	c.HasPump = rapid.IntRange(0, 3).Draw(t, "pump") > 0
	c.InBoil = rapid.Bool().Draw(t, "in boil")
	c.Boiling = unit.Celsius(rapid.IntRange(88, 100).Draw(t, "boiling"))
	c.Relay = rapid.SampledFrom([]modulate.Kind{modulate.Mechanical, modulate.SolidState}).Draw(t, "relay")
	if c.HasPump && c.InBoil && rapid.Bool().Draw(t, "hose") {
		c.Place = controller.Return
	}
	c.Settle = time.Duration(rapid.IntRange(0, 300).Draw(t, "settle")) * tick
	for i := range c.Count {
		if c.Steps[i].For > 0 {
			c.Steps[i].For = time.Duration(rapid.IntRange(60, 660).Draw(t, "for")) * tick
		}
	}
	if rapid.IntRange(0, 3).Draw(t, "first") == 3 {
		c.First = 1
		c.Steps[1].Kind = profile.Rest
	}
	return c
}

func newWild(t *rapid.T, ty *tally) *wild {
	x := newDay(wildConfig(t))
	r := seeded(rapid.Uint64().Draw(t, "jitter"))
	x.k.power = float64(x.core.Config.Power) * (0.8 + 0.4*r.Float64())
	x.k.lag = 5 + 60*r.Float64()
	x.k.boils = float64(x.core.Config.Boiling) + 2*r.NormFloat64()
	x.k.at, x.k.probe = 35, 35
	w := &wild{day: x, r: r, newest: -time.Hour, tally: ty}
	w.checker.Day = loop.DayOf(&x.core.Config, &interlock.Limits{ArmedFor: 12 * time.Hour})
	return w
}

// tick lets a time pass and holds what comes of it to every promise.
func (w *wild) tick(t *rapid.T, dt time.Duration) {
	w.dt = dt
	if dt > 0 {
		w.k.second(w.applied()) // the toy knows whole seconds only
	}
	w.last, w.before = w.d, w.s
	w.told = w.input(dt)
	w.told.Reading = w.reading()
	if w.told.Reading.Good() && w.told.Reading.Taken <= w.now {
		w.newest = max(w.newest, w.told.Reading.Taken)
	}
	w.step(w.told)
	w.log = w.log[:0]
	w.check(t)
}

// pass lets so many seconds pass.
func (w *wild) pass(t *rapid.T, seconds int) {
	if w.d.Mode.Ended() {
		seconds = min(seconds, 5) // what has ended stays so; that takes no hour
	}
	for range seconds {
		w.tick(t, tick)
	}
}

// while lets something be so for some time, with or without persons who go on.
func (w *wild) while(t *rapid.T, begin, end func()) {
	begin()
	if rapid.Bool().Draw(t, "persons") {
		w.brew(t, w.span(t))
	} else {
		w.pass(t, w.span(t))
	}
	end()
}

// span is a length of time, s: mostly short.
func (w *wild) span(t *rapid.T) int {
	return rapid.OneOf(rapid.IntRange(1, 20), rapid.IntRange(20, 200), rapid.IntRange(200, 700)).Draw(t, "seconds")
}

// actions are what may happen.
func (w *wild) actions() map[string]func(*rapid.T) {
	brew := func(t *rapid.T) {
		w.brew(t, rapid.IntRange(60, 1800).Draw(t, "seconds"))
	}
	return map[string]func(*rapid.T){
		"brew": brew, "brew on": brew, "and on": brew, // what follows needs a batch that gets somewhere
		"wait":   func(t *rapid.T) { w.pass(t, w.span(t)) },
		"press":  w.press,
		"press2": w.press,
		"skip and repent": func(t *rapid.T) {
			w.order(t, controller.Command{Wish: controller.Skip})
			w.pass(t, rapid.IntRange(1, 20).Draw(t, "seconds"))
			w.order(t, controller.Command{Wish: controller.UndoSkip})
		},
		"odd readings": func(t *rapid.T) {
			kind := rapid.IntRange(missing, powerOn).Draw(t, "trouble")
			w.while(t, func() { w.trouble = kind }, func() { w.trouble = fine })
		},
		"uneven ticks": func(t *rapid.T) {
			for range min(w.span(t), 200) {
				w.tick(t, time.Duration(1+w.r.IntN(3000))*time.Millisecond)
			}
		},
		"odd time": func(t *rapid.T) {
			w.tick(t, tick*rapid.SampledFrom([]time.Duration{0, -1, -9, 4, 60, 120, 10800}).Draw(t, "dt"))
		},
		"trip": func(t *rapid.T) {
			why := controller.Reason(rapid.IntRange(int(controller.Stale), int(controller.EnergyBudget)).Draw(t, "reason"))
			w.while(t, func() { w.trip = why }, func() {
				if rapid.IntRange(0, 4).Draw(t, "end") == 4 {
					w.order(t, controller.Command{Wish: controller.End})
				}
				w.trip = controller.NoReason
			})
		},
		"cut":        func(t *rapid.T) { w.while(t, func() { w.inhibited = true }, func() { w.inhibited = false }) },
		"half power": func(t *rapid.T) { w.while(t, func() { w.weak = true }, func() { w.weak = false }) },
		"cold water": func(t *rapid.T) { w.k.at -= 4; w.pass(t, w.span(t)) },
		"proposal": func(t *rapid.T) {
			w.proposal = controller.Proposal{Present: true, Model: observer.Model{Power: w.core.Config.Power}}
			w.proposal.Evidence = controller.Evidence{Residual: 0.01, Before: 1, Inside: rapid.Bool().Draw(t, "inside"), Span: time.Hour}
			w.pass(t, w.span(t))
		},
		"told": func(t *rapid.T) {
			w.order(t, controller.Command{
				Wish:   rapid.SampledFrom([]controller.Wish{controller.Added, controller.TookOut, controller.VolumeIs, controller.LidOff, controller.LidOn}).Draw(t, "deed"),
				Volume: unit.Litres(rapid.SampledFrom([]float64{1, 3, 20, 22, 24}).Draw(t, "volume")), At: unit.Celsius(rapid.SampledFrom([]float64{12, 60, 76}).Draw(t, "at")),
			})
			w.pass(t, w.span(t))
		},
		"power cut": w.powerCut,
		"forgotten": func(t *rapid.T) {
			if w.d.Mode != controller.Running || rapid.IntRange(0, 19).Draw(t, "seldom") < 18 {
				t.Skip("a pause of hours is seldom")
			}
			w.order(t, controller.Command{Wish: controller.Pause})
			w.pass(t, 2*3600+60)
			w.tally.forgotten++
		},
		"stop": func(t *rapid.T) {
			w.order(t, controller.Command{Wish: controller.Stop})
			w.pass(t, w.span(t))
		},
	}
}

// brew has a person at hand who answers and who gets the batch going again.
func (w *wild) brew(t *rapid.T, seconds int) {
	for left := seconds; left > 0 && !w.d.Mode.Ended(); left-- {
		switch {
		case w.d.Mode == controller.Idle:
			w.command.Wish = controller.Start
		case w.d.Mode == controller.Offered:
			w.command = controller.Command{Wish: controller.TakeUp + controller.Wish(w.r.IntN(2)), Volume: 22}
		case w.d.Mode == controller.Held, w.d.Mode == controller.Paused && w.r.IntN(60) == 0:
			w.command.Wish = controller.Resume
		case w.d.Stage == controller.Break && w.r.IntN(200) == 0:
			w.command.Wish = controller.ItBoils
		case w.d.Kind == profile.Strike && w.r.IntN(300) == 0, w.r.IntN(3000) == 0:
			w.command = w.reads()
		case w.d.Prompt == controller.AskCold:
			w.command.Wish = controller.GoOn
		case w.d.Late > 0 && w.r.IntN(30) == 0:
			w.command.Wish = controller.ExtendByDelay
		case w.d.Called&^w.d.In != 0 && w.r.IntN(240) == 0:
			w.command.Wish = controller.AdditionDone
		case w.d.Kind == profile.Chill && w.r.IntN(300) == 0:
			w.command.Wish = controller.ChillDone
		case w.d.Kind == profile.Rest && w.r.IntN(900) == 0:
			w.command = controller.Command{Wish: controller.RestBed}
			if w.r.IntN(2) == 0 {
				w.command = controller.Command{Wish: controller.Retarget, At: unit.Celsius(55 + 15*w.r.Float64())}
			}
		case w.d.Prompt != controller.NoPrompt && w.r.IntN(30) == 0:
			w.command = w.answer()
			if w.command.Wish == controller.Drained && w.r.IntN(3) == 0 {
				w.command.Volume = 14 // so little that it is warned of
			}
		}
		w.tick(t, tick)
	}
}

// reads is what he has read or weighed, or a slip of it.
func (w *wild) reads() controller.Command {
	all := [...]controller.Wish{controller.PumpStands, controller.GrainIs, controller.ThermometerSays, controller.PHIs, controller.GravityIs}
	values := [...]float64{1.05, 5.4, math.NaN()}
	return controller.Command{
		Wish: all[w.r.IntN(len(all))], At: unit.Celsius(12 + 70*w.r.Float64()), Value: values[w.r.IntN(len(values))],
		Grain: unit.Kilograms(2 + 8*w.r.Float64()), Spot: controller.Spot(w.r.IntN(6)), Instrument: gravity.Kind(w.r.IntN(4)),
	}
}

// press is anything that can be asked for, at any time; the end of the batch less
// often than the rest.
func (w *wild) press(t *rapid.T) {
	wishes := slices.Repeat([]controller.Wish{controller.ChillDone + 1}, 1) // one that does not exist
	for wish := controller.Start; wish <= controller.ChillDone; wish++ {    // what is read beside it, see there
		wishes = append(wishes, wish)
		if wish != controller.End {
			wishes = append(wishes, wish)
		}
	}
	c := controller.Command{
		Wish:   rapid.SampledFrom(wishes).Draw(t, "wish"),
		Volume: unit.Litres(rapid.SampledFrom([]float64{0, 1, 10, 14, 22, 30, -1, math.NaN(), math.Inf(1)}).Draw(t, "volume")),
		At:     unit.Celsius(rapid.SampledFrom([]float64{12, 60, 100, 0, -1, 101, math.NaN()}).Draw(t, "at")),
		By:     time.Duration(rapid.IntRange(-600, 600).Draw(t, "by")) * tick,
	}
	w.order(t, c)
	w.pass(t, w.span(t))
}

// order gives one command with the next tick.
func (w *wild) order(t *rapid.T, c controller.Command) {
	w.command = c
	w.tick(t, tick)
}

// powerCut, or a crash: the next process offers what there was.
func (w *wild) powerCut(t *rapid.T) {
	if w.d.Mode == controller.Idle || w.d.Mode.Ended() {
		t.Skip("nothing to offer")
	}
	w.s = w.s.Offer(time.Duration(rapid.IntRange(0, 3600).Draw(t, "away"))*tick, rapid.Bool().Draw(t, "known"))
	w.d.Wanted, w.d.Pump = unit.Off, unit.Off
	w.checker = w.checker.Restarted()
	w.pass(t, w.span(t))
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
	ty.pump += int(d.Pump)
	if d.Mode.Heats() {
		ty.stages[d.Stage]++
	}
	if wish := w.told.Command.Wish; wish > controller.NoWish && wish <= controller.ChillDone {
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
	var all invariant.Tally
	size := explore.Size{Checks: 200, Steps: 60, Night: *night}
	explore.Check(t, size, func(t *rapid.T) {
		w := newWild(t, ty)
		defer func() { all = all.Add(w.checker.Tally) }()
		w.pass(t, 5)
		t.Repeat(w.actions())
		w.order(t, controller.Command{Wish: controller.Stop})
		if w.order(t, controller.Command{Wish: controller.End}); w.d.Mode != controller.Idle && !w.d.Mode.Ended() {
			t.Fatalf("the batch cannot be ended: %s", w.day)
		}
		w.pass(t, 5)
	})
	t.Log(all)
	if testing.Short() {
		return // too few days to meet everything
	}
	if why := all.Vacuous(size.Each()); why != "" {
		t.Error(why)
	}
	ty.gate(t)
}

// check counts the tick and holds it to every promise.
func (w *wild) check(t *rapid.T) {
	t.Helper()
	w.count()
	for _, b := range w.checker.Check(loop.FactOf(&w.told, &w.s, &w.d)) {
		t.Fatalf("%v (tick of %v, wish %v); %s", b, w.dt, w.told.Command.Wish, w.day)
	}
	for _, broken := range []error{w.clockPromise(), w.modePromise(), w.figurePromise()} {
		if broken != nil {
			t.Fatalf("%v (tick of %v, wish %v); %s", broken, w.dt, w.told.Command.Wish, w.day)
		}
	}
}

// gate fails the test when the wild days were too tame to prove anything.
func (ty *tally) gate(t *testing.T) {
	t.Helper()
	if share := float64(ty.pump) / float64(ty.ticks); share < 0.05 {
		t.Errorf("the pump ran in %.1f %% of the ticks", 100*share)
	}
	for s := controller.Heat; s <= controller.Cool; s++ {
		if ty.stages[s] < 100 {
			t.Errorf("stage %v in %d ticks only", s, ty.stages[s])
		}
	}
	for wish := controller.Start; wish <= controller.ChillDone; wish++ {
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
	if ty.forgotten < 3 {
		t.Errorf("%d pauses were forgotten", ty.forgotten)
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
