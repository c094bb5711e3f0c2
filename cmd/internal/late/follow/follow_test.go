package follow_test

import (
	"flag"
	"math"
	"slices"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/late"
	"mashward/cmd/internal/late/follow"
	"mashward/cmd/internal/rehearse"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/record"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/sim"
	"mashward/sim/fault"
)

var night = flag.Bool("night", false, "try many more days, by other seeds")

// took is what an account says of a cause, at some places; none: at all.
func took(a *late.Account, c late.Cause, places ...late.Place) (sum time.Duration) {
	for _, p := range a.Parts {
		at := len(places) == 0
		for _, place := range places {
			at = at || p.Place == place
		}
		if p.Cause == c && at {
			sum += p.Took
		}
	}
	return sum
}

// about fails where a time is further from what it should be than some seconds.
func about(t *testing.T, what string, got, want, within time.Duration) {
	t.Helper()
	if off := got - want; off > within || off < -within {
		t.Errorf("%s: %v, not %v", what, got.Round(time.Second), want.Round(time.Second))
	}
}

// The truth is the person's own delay at one prompt; his hand takes a second. While
// the chiller is waited for the open kettle cools: that much of it is not lost. While the
// grain goes in nothing is heated, and minutes of a mash that landed too cold do not count.
// There the truth is how much longer these steps took by the batch's clock, and no more of
// the day: how many seconds the boil takes to be sure of is chance (-4 to 28 on six days
// that differ by his delay alone).
func TestAPersonWhoComesLateTakesTheMinutesThatHeCameLate(t *testing.T) {
	const within = 10 * time.Second
	first := sample(t)
	base := first.run(t, nil)
	for prompt, place := range map[controller.Prompt]late.Place{
		controller.AskPour: late.Pour, controller.AskGrainIn: late.Pour, controller.AskLift: late.Hoist, controller.AskHereLidOff: late.Door, controller.AskChillerWater: late.Chiller,
	} {
		d := sample(t)
		d.slow, d.by = prompt, 5*time.Minute
		a := d.run(t, nil)
		show(t, prompt.String(), d, &a)
		want := 5 * time.Minute
		switch prompt {
		case controller.AskGrainIn:
			want = d.starts[2] - d.starts[1] - (first.starts[2] - first.starts[1])
		case controller.AskChillerWater:
			want = d.clock - d.starts[7] - (first.clock - first.starts[7])
		}
		if want < 4*time.Minute {
			t.Errorf("%v is not asked for: the day is %v longer", prompt, want)
		}
		about(t, prompt.String(), took(&a, late.Person, place)-took(&base, late.Person, place), want, within)
		about(t, prompt.String()+", all of a person", took(&a, late.Person)-took(&base, late.Person), want, within)
	}
}

// heatUps is by how much a plan's heat-ups at full power take longer than another's.
func heatUps(t *testing.T, d, other *day) map[uint8]time.Duration {
	t.Helper()
	longer := map[uint8]time.Duration{}
	more, _ := plan.Make(other.profile, other.rig.PlanKettle())
	less, _ := plan.Make(d.profile, d.rig.PlanKettle())
	for i, s := range more.Steps {
		if was := less.Steps[i]; s.Heat() > time.Minute && s.Kind != profile.Chill {
			longer[uint8(s.Index)] = s.Heat() - s.Gentle - was.Heat() + was.Gentle
		}
	}
	return longer
}

// A plan made for the true element says what its heat-ups take longer. Until the
// wort is measured nobody can say that it was not the water.
func TestAWeakElementTakesWhatItsHeatUpsTakeLonger(t *testing.T) {
	d, weak := sample(t), sample(t)
	d.plant.Element.Power *= 0.9
	weak.rig.Element.Power *= 0.9
	a := d.run(t, func(f *loop.Frame, a *late.Account) {
		if sums := a.By(); !f.Decision.Lifted && (sums[late.Power] != 0 || sums[late.Water].Abs() > 5*time.Second) {
			t.Fatalf("at %v, with nothing measured, %v", f.Decision.Clock, sums)
		}
	})
	show(t, "a tenth of the power missing", d, &a)
	for step, longer := range heatUps(t, d, weak) {
		var got time.Duration
		for _, p := range a.Parts {
			if p.Cause == late.Power && p.Place == late.HeatUp && p.Step == step {
				got = p.Took
			}
		}
		about(t, d.plan.Steps[step].Kind.String(), got, longer, 25*time.Second)
	}
	if w := took(&a, late.Water, late.HeatUp); w.Abs() > 10*time.Second {
		t.Errorf("%v of heat-ups by water that was as declared", w)
	}
}

// The same with a tenth more water than declared: the volume after the lift says so.
func TestMoreWaterTakesWhatItsHeatUpsTakeLonger(t *testing.T) {
	d, full := sample(t), sample(t)
	d.plant.Water.Error = 0.1
	full.profile.Water *= 1.1
	before := late.Account{}
	a := d.run(t, func(f *loop.Frame, a *late.Account) {
		if !f.Decision.Lifted {
			before = *a
		}
	})
	show(t, "before the lift", d, &before)
	show(t, "a tenth more water", d, &a)
	if either := took(&before, late.PowerOrWater); either < 3*time.Minute || took(&before, late.Power) != 0 {
		t.Errorf("before anyone measured: %v", before.By())
	}
	for step, longer := range heatUps(t, d, full) {
		var got time.Duration
		for _, p := range a.Parts {
			if p.Cause == late.Water && p.Place == late.HeatUp && p.Step == step {
				got = p.Took
			}
		}
		about(t, d.plan.Steps[step].Kind.String(), got, longer, 20*time.Second)
	}
	if e := took(&a, late.Power, late.HeatUp); e.Abs() > 75*time.Second {
		t.Errorf("%v of heat-ups by an element that is as declared", e)
	}
}

// The lid is taken off in the first rest and put back before the lift. The truth is
// the same day with the lid on: it is told, or it is not.
func TestAnOpenLidTakesWhatTheHeatUpsTakeLonger(t *testing.T) {
	base := sample(t)
	without := base.run(t, nil)
	for _, told := range []bool{true, false} {
		d := sample(t)
		d.tells = func(f *loop.Frame, p *sim.Plant) controller.Command {
			w := controller.NoWish
			switch dec := &f.Decision; {
			case dec.Stage == controller.Count && dec.Index == 1 && !p.Truth().LidOff:
				p.Do(sim.Event{Kind: sim.LidOff})
				w = controller.LidOff
			case dec.Stage == controller.Count && dec.Index == 4 && p.Truth().LidOff:
				p.Do(sim.Event{Kind: sim.LidOn})
				w = controller.LidOn
			}
			if !told {
				w = controller.NoWish
			}
			return controller.Command{Wish: w}
		}
		a := d.run(t, nil)
		show(t, map[bool]string{true: "told", false: "not told"}[told], d, &a)
		truth := a.Late - without.Late
		if truth < 40*time.Second {
			t.Fatalf("the lid took %v: nothing is shown", truth)
		}
		lid := took(&a, late.Lid)
		if told {
			about(t, "the lid", lid, truth, 30*time.Second)
		} else if lid != 0 {
			t.Errorf("%v by a lid nobody told of", lid)
		}
	}
}

// The pump stops in the heat-up to 71 °C. The interlock trips, the batch is held until
// somebody has looked, fifteen minutes later; the mash has cooled and is warmed again.
func TestAPumpThatStoppedTakesTheTimeThatTheBatchWasHeld(t *testing.T) {
	d := sample(t)
	d.script = fault.Script{{Kind: fault.PumpStopped, At: fault.Moment{OfStep: true, Step: 2, After: d.profile.Steps[1].For - time.Minute}, For: 15 * time.Minute}}
	held := time.Duration(0)
	d.tells = func(f *loop.Frame, _ *sim.Plant) controller.Command {
		if f.Decision.Mode != controller.Held {
			return controller.Command{}
		}
		held++
		switch {
		case held == 15*60:
			return controller.Command{Wish: controller.ClearTrip}
		case held > 15*60 && held%5 == 0:
			return controller.Command{Wish: controller.Resume}
		}
		return controller.Command{}
	}
	a := d.run(t, nil)
	show(t, "pump", d, &a)
	if held == 0 || d.loop.State.Mode != controller.Complete {
		t.Fatalf("held for %d s, %v", held, d.loop.State.Mode)
	}
	if p := took(&a, late.Pump, late.Trip); p < held*time.Second || p > held*time.Second+4*time.Minute {
		t.Errorf("%v by the pump, of %v that it was held", p, held*time.Second)
	}
}

// What a person changes moves the day at once, and to the second.
func TestAStepMadeLongerAndOneSkippedMoveTheDayAtOnce(t *testing.T) {
	d := sample(t)
	var left time.Duration
	var jumped bool
	d.tells = func(f *loop.Frame, _ *sim.Plant) controller.Command {
		dec := &f.Decision
		switch {
		case dec.Stage == controller.Count && dec.Index == 2 && dec.Earned == 10*time.Minute:
			return controller.Command{Wish: controller.Extend, By: 12 * time.Minute}
		case dec.Stage == controller.Count && dec.Index == 3 && dec.Earned == 5*time.Minute:
			left = dec.Left
			return controller.Command{Wish: controller.Skip}
		}
		return controller.Command{}
	}
	a := d.run(t, func(f *loop.Frame, a *late.Account) {
		if f.Tick.Command.Wish == controller.Extend {
			jumped = took(a, late.Person, late.Longer) == 12*time.Minute
		}
	})
	show(t, "longer, and skipped", d, &a)
	if !jumped || took(&a, late.Person, late.Longer) != 12*time.Minute {
		t.Errorf("12 min longer: %v", took(&a, late.Person, late.Longer))
	}
	about(t, "skipped", took(&a, late.Person, late.Skip), -left, 10*time.Second)
}

// Water that is told of in a heat-up costs what it takes to warm it, and what more
// there is to warm from then on: by the method of mixtures and the plan's power.
func TestWaterThatIsToldOfTakesWhatItTakesToWarmIt(t *testing.T) {
	d := sample(t)
	const litres, at = 2, 15.0
	var from unit.Celsius
	d.tells = func(f *loop.Frame, p *sim.Plant) controller.Command {
		dec := &f.Decision
		if from != 0 || dec.Stage != controller.Heat || dec.Index != 2 || dec.Estimate < 54 {
			return controller.Command{}
		}
		from = dec.Estimate
		p.Do(sim.Event{Kind: sim.WaterIn, Litres: litres, Temperature: at})
		return controller.Command{Wish: controller.Added, Volume: litres, At: at}
	}
	a := d.run(t, nil)
	show(t, "two litres", d, &a)
	k := d.rig.PlanKettle()
	watts := float64(k.Power) - float64(k.Loss)*(58-float64(k.Room))
	warm := time.Duration(litres * 4184 * (float64(d.profile.Steps[1].Target) - at) / watts * float64(time.Second))
	var got time.Duration
	for _, p := range a.Parts {
		if p.Cause == late.Water && p.Step == 2 {
			got += p.Took
		}
	}
	about(t, "the water", got, warm, 25*time.Second)
}

// Whatever happens, the causes add up to the second; and where the batch's own clock
// says where it stands (in a rest, at a lift, at the end) that is actual less planned,
// worked out here without the ledger.
func TestTheCausesAddUpOnRandomDays(t *testing.T) {
	days, from := 8, uint64(1)
	if *night {
		days, from = 300, 1000
	}
	standing, causes := 0, map[late.Cause]bool{}
	for seed := from; seed < from+uint64(days); seed++ {
		d, w := wild(t, seed)
		a := d.run(t, func(f *loop.Frame, a *late.Account) {
			sum := time.Duration(0)
			for c, took := range a.By() {
				sum += took
				causes[late.Cause(c)] = causes[late.Cause(c)] || took != 0
			}
			if sum != a.Late || a.Clock != f.Decision.Clock {
				t.Fatalf("day %d, %v: %v, and the causes make %v", seed, f.Decision.Clock, a.Late, sum)
			}
			if want, known := d.planned(f); known {
				standing++
				if got := f.Decision.Clock - want; got != a.Late {
					t.Fatalf("day %d, %v, step %d %v: %v late, not %v", seed, f.Decision.Clock, f.Decision.Index, f.Decision.Stage, a.Late, got)
				}
			}
		})
		if math.Abs(a.Late.Hours()) > 12 {
			t.Errorf("day %d: %v", seed, a.Late)
		}
		w.show(t, seed, d, &a)
	}
	for _, c := range []late.Cause{late.Person, late.Power, late.Water, late.PowerOrWater, late.Lid, late.Settling} {
		if !causes[c] {
			t.Errorf("no day was ever late by %v", c)
		}
	}
	if standing < days*1000 {
		t.Errorf("compared in %d seconds only", standing)
	}
}

// planned is where in the plan a batch stands whose own clock tells it.
func (d *day) planned(f *loop.Frame) (time.Duration, bool) {
	dec := &f.Decision
	if dec.Mode == controller.Complete {
		return d.plan.Finish, true
	}
	if dec.Mode != controller.Running {
		return 0, false
	}
	for _, s := range d.plan.Steps {
		switch {
		case s.Index != int(dec.Index):
		case dec.Stage == controller.Count || dec.Stage == controller.Boil:
			return s.End - dec.Left, true
		case dec.Kind == profile.Lift:
			return s.Start, true
		}
	}
	return 0, false
}

// A record tells the same as the frames did, to the nanosecond; one without its plan
// tells nothing.
func TestARecordTellsTheSame(t *testing.T) {
	d, w := wild(t, 3)
	d.plan, _ = plan.Make(d.profile, d.rig.PlanKettle())
	k := &rehearse.Simulated{Bench: sim.NewBench(sim.New(d.plant, config.Load(d.profile), 7), nil, 7)}
	f := follow.New(late.Of(d.plan))
	r := rehearse.On(d.rig, d.profile, d.plan, k)
	r.Watchers, r.Bare, r.Delay = []loop.Watcher{f}, true, time.Minute
	asked := false // for more of the next rest, in this one
	r.Tells = func(f *loop.Frame) controller.Command {
		if dec := &f.Decision; !asked && dec.Stage == controller.Count && dec.Index == 2 {
			asked = true
			return controller.Command{Wish: controller.Extend, Step: 3, By: 7 * time.Minute}
		}
		return w.tells(f, k.Plant())
	}
	memory := &record.Memory{}
	recorder, err := r.Record(memory, record.Head{Simulated: true})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.Go(); err != nil {
		t.Fatal(err)
	}
	recorder.End()
	if err := recorder.Close(t.Context()); err != nil {
		t.Fatal(err)
	}
	want, _ := f.Account()
	if n := took(&want, late.Person, late.Longer); !asked || n == 0 {
		t.Fatalf("asked for more of the next rest: %v, and %v of it are a person's", asked, n)
	}
	for _, planned := range []bool{true, false} {
		reader, err := record.Read(memory)
		if err != nil {
			t.Fatal(err)
		}
		if !planned {
			reader.Head.Plan = nil
		}
		again := follow.Noted(&reader.Head)
		_, err = reader.Each(again.Block)
		got, known := again.Account()
		if err != nil || known != planned {
			t.Fatalf("known %v, %v", known, err)
		}
		if planned && (got.Late != want.Late || !slices.Equal(got.Parts, want.Parts)) {
			t.Errorf("by the record %+v, by the frames %+v", got, want)
		}
	}
}
