package rehearse

import (
	"context"
	"errors"
	"math"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile/plan"
	"mashward/sensors"
	"mashward/sim"
	"mashward/sim/kettles"
)

// watching is a watcher made of a function.
type watching func(*loop.Frame)

// Watch implements loop.Watcher.
func (w watching) Watch(f *loop.Frame) { w(f) }

// trialOn is a water test on a random kettle.
func trialOn(seed uint64, watch watching) *Trial {
	k := kettles.Random(seed)
	plant := sim.New(k.Plant, sim.Load{Water: k.Load.Water}, seed+1)
	plant.Warm(k.Plant.Site.Room + 4)
	return &Trial{
		Rig: RigOf(k, plan.SolidState), Water: k.Load.Water, Kettle: &Simulated{Bench: sim.NewBench(plant, nil, seed)},
		Watchers: []loop.Watcher{watch},
	}
}

// Whoever ends a water test, in whatever stage, has the element off in the same
// tick and nothing found.
func TestAWaterTestThatIsEndedLeavesTheElementOff(t *testing.T) {
	for _, stage := range []controller.Stage{controller.NoStage, controller.Still, controller.Push, controller.Quiet} {
		ctx, end := context.WithCancel(context.Background())
		wasOn, ended := false, false
		trial := trialOn(3, func(f *loop.Frame) {
			if ended {
				t.Errorf("%v: another tick", stage)
			}
			if f.Decision.Stage == stage && f.State.InStage >= 20*time.Second || stage == controller.NoStage {
				wasOn, ended = f.Permitted == unit.On, true
				end()
			}
		})
		out, err := trial.Go(ctx)
		if err != nil || !ended || out.Mode != controller.Stopped || out.Reason != controller.ByOperator || out.Found.Accepted() && out.Found.Samples > 0 {
			t.Errorf("%v: ended: %v; %+v, %v", stage, ended, out, err)
		}
		if wasOn != (stage == controller.Push) {
			t.Errorf("%v: the element was on: %v", stage, wasOn)
		}
		kettle := trial.Kettle.(*Simulated)
		if err := kettle.Element().Hold(unit.On, time.Second); !errors.Is(err, sim.ErrDropped) {
			t.Errorf("%v: the line can be held again: %v", stage, err)
		}
		kettle.Next()
		if kettle.Element().Applied() != unit.Off || kettle.Bench.Plant().Truth().Power != 0 {
			t.Errorf("%v: the element heats", stage)
		}
	}
}

// A wait for a plant that does not answer is no reason to heat: the line is
// taken off from outside of the loop.
func TestAWaterTestThatIsEndedInTheMiddleOfATickIsOffAtOnce(t *testing.T) {
	ctx, end := context.WithCancel(context.Background())
	trial := trialOn(3, func(*loop.Frame) {})
	trial.Kettle = &slow{Tested: trial.Kettle, until: func(k Tested) {
		if k.Element().Applied() != unit.On {
			return
		}
		end()
		for k.Element().Hold(unit.On, time.Second) == nil {
			// AfterFunc runs beside the loop: it will come.
		}
	}}
	if out, err := trial.Go(ctx); err != nil || out.Mode != controller.Stopped {
		t.Errorf("%+v, %v", out, err)
	}
}

// slow is a kettle in whose ticks something happens.
type slow struct {
	Tested
	until func(Tested)
}

// Next implements loop.Pacer.
func (s *slow) Next() (time.Duration, bool) {
	s.until(s.Tested)
	return s.Tested.Next()
}

// What is told to be ahead comes true: from the third minute of full power on
// within a fifth and a minute, with the pace that was measured until then.
func TestWhatIsAheadOfAWaterTestComesTrue(t *testing.T) {
	rule := controller.DefaultTest()
	for seed := range uint64(20) {
		type guess struct {
			at, here, all time.Duration
			stage         controller.Stage
		}
		var guesses []guess
		origin, first, began, quiet, over := 0.0, 0.0, time.Duration(0), time.Duration(0), time.Duration(0)
		trial := trialOn(seed, func(f *loop.Frame) {
			d := &f.Decision
			over = d.Clock
			in := f.State.InStage
			switch {
			case d.Stage == controller.Push && in < time.Second:
				origin = float64(d.Filtered)
			case d.Stage == controller.Push && in == time.Minute:
				first, began = float64(d.Filtered), d.Clock
			case d.Stage == controller.Push && in >= 3*time.Minute && int(in.Seconds())%60 == 0:
				rate := (float64(d.Filtered) - first) / (d.Clock - began).Seconds()
				here, all := rule.Ahead(d.Stage, in, unit.Kelvin(float64(d.Filtered)-origin), unit.KelvinPerSecond(rate))
				guesses = append(guesses, guess{d.Clock, here, all, d.Stage})
			case d.Stage == controller.Quiet:
				if quiet == 0 {
					quiet = d.Clock
				}
				here, all := rule.Ahead(d.Stage, in, 0, 0)
				guesses = append(guesses, guess{d.Clock, here, all, d.Stage})
			}
		})
		if out, err := trial.Go(context.Background()); err != nil || out.Mode != controller.Complete {
			t.Fatalf("kettle %d: %+v, %v", seed, out, err)
		}
		for _, g := range guesses {
			within := 2 * time.Second
			if g.stage == controller.Push {
				within = time.Minute + (quiet-g.at)/5
				if miss := g.here - (quiet - g.at); miss.Abs() > within {
					t.Errorf("kettle %d, %v: full power for %v more was foreseen, it was %v", seed, g.at, g.here, quiet-g.at)
				}
			}
			if miss := g.all - (over - g.at); miss.Abs() > within {
				t.Errorf("kettle %d, %v: %v more were foreseen, it was %v", seed, g.at, g.all, over-g.at)
			}
		}
		if len(guesses) < 900 {
			t.Errorf("kettle %d: %d guesses", seed, len(guesses))
		}
	}
	if here, all := rule.Ahead(controller.Push, 0, 0, unit.KelvinPerSecond(math.NaN())); here < 30*time.Minute || all <= here {
		t.Errorf("without a pace %v and %v are ahead", here, all)
	}
}

// mute is a kettle whose element's line fails in the middle of full power.
type mute struct {
	Tested
	*weak
}

// weak is an element's line that fails after some seconds of heat.
type weak struct {
	loop.Element
	heated, drops int
}

var errMute = errors.New("no answer")

// Element implements Tested.
func (m *mute) Element() loop.Element { return m.weak }

// Hold implements line.Line.
func (l *weak) Hold(r unit.Relay, lease time.Duration) error {
	if l.heated += int(r); l.heated > 20 {
		return errMute
	}
	return l.Element.Hold(r, lease)
}

// Drop implements line.Line.
func (l *weak) Drop() {
	l.drops++
	l.Element.Drop()
}

// Of a relay that does not answer nobody knows what it does: nothing can be
// learned with it, and it is said.
func TestAWaterTestEndsWithARelayThatDoesNotAnswer(t *testing.T) {
	trial := trialOn(3, func(*loop.Frame) {})
	broken := &mute{Tested: trial.Kettle, weak: &weak{Element: trial.Kettle.Element()}}
	trial.Kettle = broken
	out, err := trial.Go(context.Background())
	if !errors.Is(err, ErrRelay) || !errors.Is(err, errMute) || out.Mode != controller.Idle {
		t.Errorf("%+v, %v", out, err)
	}
	if broken.heated != 21 || broken.drops == 0 {
		t.Errorf("asked for heat %d times, dropped %d times", broken.heated, broken.drops)
	}
}

// hotter is a kettle whose probe tells so much more after some seconds of heat.
type hotter struct {
	Tested
	by     unit.Kelvin
	heated int
}

// Latest implements sensors.Probe.
func (h *hotter) Latest() sensors.Reading {
	r := h.Tested.Latest()
	if h.heated += int(h.Element().Applied()); h.heated > 20 {
		r.Value = r.Value.Plus(h.by)
	}
	return r
}

// The limit of a test is 15 K above its start: with less than a kelvin of warmth of
// its own in 25 s, a reading 13 K higher is below it, and one 16 K higher is not.
func TestAWaterTestIsCutFifteenKelvinAboveItsStart(t *testing.T) {
	for by, tripped := range map[unit.Kelvin]bool{13: false, 16: true} {
		held := unit.Off
		trial := trialOn(3, func(f *loop.Frame) { held = f.Permitted })
		var marked bool
		trial.Latch = func(g *interlock.Guard) { marked = g.Marks[interlock.OverTemperature].State == interlock.Tripped }
		trial.Kettle = &hotter{Tested: trial.Kettle, by: by}
		out, err := trial.Go(context.Background())
		if err != nil || (out.Reason == controller.OverTemperature) != tripped || marked != tripped || held != unit.Off {
			t.Errorf("%v K higher: %+v, %v; latched %v, element %v", by, out, err, marked, held)
		}
	}
}

// flutters is a kettle whose probe gives a reading that cannot be now and then, from
// when it first heats.
type flutters struct {
	Tested
	every, times int // s; 0 times: for ever
	ticks        int
}

// Latest implements sensors.Probe.
func (k *flutters) Latest() sensors.Reading {
	r := k.Tested.Latest()
	if k.ticks > 0 || k.Element().Applied() == unit.On {
		k.ticks++
	}
	if n := k.ticks / k.every; k.ticks%k.every == k.every-1 && (k.times == 0 || n < k.times) {
		r.Value = 120
	}
	return r
}

// Each return of the heat is a closing of the relay: a reading that cannot be, every
// 12 s, would close it some 225 times. Two of them are borne.
func TestAWaterTestEndsWhereHeatIsCutAgainAndAgain(t *testing.T) {
	for _, times := range []int{2, 0} {
		closings, before := 0, unit.Off
		trial := trialOn(3, func(f *loop.Frame) {
			if f.Permitted == unit.On && before == unit.Off {
				closings++
			}
			before = f.Permitted
		})
		trial.Kettle = &flutters{Tested: trial.Kettle, every: 12, times: times}
		out, err := trial.Go(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		if ends := times == 0; (out.Cut == "implausible") != ends || (out.Mode == controller.Complete) == ends || closings > 3 || closings < 1 || before != unit.Off {
			t.Errorf("%d odd readings: %+v, the relay closed %d times, at the end %v", times, out, closings, before)
		}
	}
}
