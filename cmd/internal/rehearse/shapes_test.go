package rehearse

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/heat"
	"mashward/profile/plan"
	"mashward/sim"
	"mashward/sim/kettles"
)

// shapeSeeds are the kettles that days of other shapes than the campaign's four rests
// are judged on. The blanks after a chiller were chosen on those from 191,000,000 on.
const shapeSeeds = 201_000_000

// shaped is one healthy day of some shape, on a kettle with nothing wrong.
type shaped struct {
	run    *Run
	kettle *Simulated
	chance *rand.Rand
	from   time.Duration // when what the shape says begins, at the earliest
	since  time.Duration // when it began; 0: not yet
	done   int           // how many parts of it are over
	shut   time.Duration // when the chiller's water is closed; 0: it is not asked for
	late   time.Duration // how long he takes to that
}

// dayShape is a kind of day: its profile, and what a person does in it besides.
type dayShape struct {
	name    string
	profile func(kettles.Kettle, plan.Kettle) profile.Profile
	prepare func(*shaped)
	tells   func(*shaped, *loop.Frame) controller.Command
}

// stands is a day with two stands behind the boil, of which the second is 75 °C.
func stands(first func(boiling unit.Celsius) unit.Celsius) func(kettles.Kettle, plan.Kettle) profile.Profile {
	return func(k kettles.Kettle, pk plan.Kettle) profile.Profile {
		p := FourRests(k)
		p.Steps = append(p.Steps[1:2:2], p.Steps[3]) // one rest is enough
		p.Steps[0].Kind = profile.MashIn
		p.Steps = append(p.Steps, profile.Step{Kind: profile.Lift}, profile.Step{Kind: profile.Boil, For: boilsFor},
			profile.Step{Kind: profile.Stand, Target: first(heat.BoilingPointAt(pk.Altitude)), For: 10 * time.Minute},
			profile.Step{Kind: profile.Stand, Target: 75, For: 10 * time.Minute},
			profile.Step{Kind: profile.Chill, Target: k.Declared.Tap + 20})
		return p
	}
}

func at88(unit.Celsius) unit.Celsius { return 88 }

func fourRests(k kettles.Kettle, _ plan.Kettle) profile.Profile { return brewed(k, true) }

// anyTime is a moment of the day by chance.
func anyTime(d *shaped) { d.from = time.Duration(20+d.chance.IntN(260)) * time.Minute }

// presses has him press first, and a while later second, once from a moment on in which
// the batch is as wanted.
func presses(first controller.Wish, mode controller.Mode, second controller.Wish, minutes int) func(*shaped, *loop.Frame) controller.Command {
	return func(d *shaped, f *loop.Frame) controller.Command {
		now := f.Tick.Now
		switch {
		case d.done == 0 && now > d.from && f.Decision.Mode == controller.Running:
			d.done, d.since = 1, now
			return controller.Command{Wish: first}
		case d.done == 1 && f.Decision.Mode == mode && now > d.since+time.Duration(1+d.chance.IntN(minutes))*time.Minute:
			d.done = 2
			return controller.Command{Wish: second}
		}
		return controller.Command{}
	}
}

// water has him pour in, or take out, that share of the water in a rest, and say so
// within a minute: hot water before it goes in, the rest behind it.
func water(share unit.Ratio, at unit.Celsius) func(*shaped, *loop.Frame) controller.Command {
	return func(d *shaped, f *loop.Frame) controller.Command {
		now, litres := f.Tick.Now, d.run.Profile.Water*unit.Litres(share)
		says := controller.Command{Wish: controller.Added, Volume: litres, At: at}
		if litres < 0 {
			says = controller.Command{Wish: controller.TookOut, Volume: -litres}
		}
		switch hot := at > 90; {
		case d.done == 0 && f.Decision.Index == 2 && f.Decision.Reached && f.State.InStage > d.from:
			d.done, d.since = 1, now+time.Duration(d.chance.IntN(60))*time.Second
			if hot {
				return says
			}
			d.pour(litres, at)
		case d.done == 1 && now >= d.since:
			if d.done = 2; !hot {
				return says
			}
			d.pour(litres, at)
		}
		return controller.Command{}
	}
}

// pour puts warm litres in, or takes them out.
func (d *shaped) pour(litres unit.Litres, at unit.Celsius) {
	p := d.kettle.Plant()
	if litres < 0 {
		p.Do(sim.Event{Kind: sim.WaterOut, Litres: heat.ColdFrom(-litres, p.Mash())})
		return
	}
	p.Do(sim.Event{Kind: sim.WaterIn, Litres: heat.ColdFrom(litres, at), Temperature: at})
}

func inARest(d *shaped) { d.from = time.Duration(3+d.chance.IntN(15)) * time.Minute }

// lids has him move the lid and say so.
func lids(d *shaped, f *loop.Frame) controller.Command {
	now := f.Tick.Now
	switch {
	case d.done == 0 && now > d.from && f.Decision.Mode == controller.Running && !f.State.Lifted:
		d.done, d.since = 1, now
		d.kettle.Do(sim.LidOff)
		return controller.Command{Wish: controller.LidOff}
	case d.done == 1 && now > d.since+20*time.Minute && !f.State.Lifted:
		d.done = 2
		d.kettle.Do(sim.LidOn)
		return controller.Command{Wish: controller.LidOn}
	}
	return controller.Command{}
}

// early has him open the chiller's water up to a minute before he presses.
func early(d *shaped, f *loop.Frame) controller.Command {
	switch f.Decision.Prompt {
	case controller.AskChiller, controller.AskChillerWater, controller.AskCoolToStand:
		if d.since == 0 {
			d.since = f.Tick.Now
		}
		if f.Tick.Now == d.since+d.run.Delay-d.from {
			d.kettle.Do(sim.ChillerOn)
		}
	default:
		if d.since != 0 && !f.State.ChillerOn { // cold enough before he had said anything
			d.kettle.Do(sim.ChillerOff)
		}
		d.since = 0
	}
	return controller.Command{}
}

// shapes are the kinds of day.
func shapes() []dayShape {
	return []dayShape{
		{"stands", stands(at88), nil, nil},
		{"stands, the chiller closed up to 3 min late", stands(at88), func(d *shaped) { d.late = time.Duration(d.chance.IntN(180)) * time.Second }, nil},
		{"stands, the chiller opened up to a minute before he says so", stands(at88), func(d *shaped) { d.from = time.Duration(d.chance.IntN(60)) * time.Second }, early},
		{"a stand 5 K below the boil", stands(func(b unit.Celsius) unit.Celsius { return b - 5 }), nil, nil},
		{"paused", fourRests, anyTime, presses(controller.Pause, controller.Paused, controller.Resume, 100)},
		{"paused, with stands", stands(at88), anyTime, presses(controller.Pause, controller.Paused, controller.Resume, 100)},
		{"STOP, and on again", fourRests, anyTime, presses(controller.Stop, controller.Held, controller.Resume, 60)},
		{"STOP, and on again, with stands", stands(at88), anyTime, presses(controller.Stop, controller.Held, controller.Resume, 60)},
		{"the pump off for a while", fourRests, anyTime, presses(controller.PumpOff, controller.Running, controller.PumpOn, 10)},
		{"the bed rested", fourRests, anyTime, presses(controller.RestBed, controller.Running, controller.NoWish, 10)},
		{"a step skipped, and another", fourRests, anyTime, presses(controller.Skip, controller.Running, controller.Skip, 40)},
		{"a step repeated", fourRests, anyTime, presses(controller.StepBack, controller.Running, controller.NoWish, 10)},
		{"a tenth of cold water, told", fourRests, inARest, water(0.1, 12)},
		{"a tenth of boiling water, told", fourRests, inARest, water(0.1, 96)},
		{"a tenth taken out, told", fourRests, inARest, water(-0.1, 0)},
		{"the lid off for 20 min, told", fourRests, anyTime, lids},
		{"a water brew", func(k kettles.Kettle, pk plan.Kettle) profile.Profile {
			p, err := stands(at88)(k, pk).InWater()
			if err != nil {
				panic(err)
			}
			return p
		}, nil, nil},
		{"a mash alone", func(k kettles.Kettle, _ plan.Kettle) profile.Profile { return FourRests(k) }, nil, nil},
		{"water by hand", func(k kettles.Kettle, _ plan.Kettle) profile.Profile {
			return profile.Water(k.Load.Water, 78, 40*time.Minute, profile.Brew)
		}, nil, nil},
		{"cleaning", func(k kettles.Kettle, _ plan.Kettle) profile.Profile {
			return profile.Water(k.Load.Water, 65, time.Hour, profile.Cleaning)
		}, nil, nil},
	}
}

// day prepares the day of a shape on the kettle of a seed; nil: it cannot be had there.
func (s dayShape) day(seed uint64, tuned bool) *shaped {
	k := kettles.Random(seed)
	rig := RigOf(k, plan.RelayKind(seed/2%2))
	var found *config.Tuning
	if tuned {
		var err error
		if rig, _, err = TuneRandom(k, rig, seed); err != nil {
			return nil
		}
		found = rig.Found
	}
	p := s.profile(k, rig.PlanKettle())
	d, problems := plan.Make(p, rig.PlanKettle())
	if plan.Refused(problems) {
		return nil
	}
	load := k.Load
	load.Grain = p.Grain.Mass
	kettle := &Simulated{Bench: sim.NewBench(sim.New(k.Plant, load, seed+7), nil, seed)}
	out := &shaped{kettle: kettle, chance: rand.New(rand.NewPCG(seed, 23))}
	out.run = &Run{Profile: p, Plan: d, Kettle: kettle, Model: rig.Model(), Bare: true, Checks: Checks(d, found), Delay: time.Duration(out.chance.IntN(240)) * time.Second}
	if s.prepare != nil {
		s.prepare(out)
	}
	if s.tells != nil {
		out.run.Tells = func(f *loop.Frame) controller.Command { return s.tells(out, f) }
	}
	return out
}

// live plays the day and most of an hour after it; what was tripped, when.
func (d *shaped) live() (trips, cuts []string) {
	r := d.run
	r.prepare()
	r.person.Do = d.hands
	ended := time.Duration(0)
	r.loop.Run(func(f *loop.Frame) bool {
		now := f.Tick.Now
		if d.shut > 0 && now >= d.shut {
			d.kettle.Do(sim.ChillerOff)
			d.shut = 0
		}
		note := func(list []string, rule interlock.Rule) []string {
			s := fmt.Sprintf("%v at %v, step %d, %v for %v (%v)", rule, now, f.Decision.Index, f.State.Stage, f.State.InStage, f.Decision.Mode)
			if n := len(list); rule == interlock.NoRule || n > 0 && list[n-1][:8] == s[:8] {
				return list
			}
			return append(list, s)
		}
		trips, cuts = note(trips, f.Verdict.Trip), note(cuts, f.Verdict.Cut)
		over := r.over(f)
		if f.Decision.Mode.Ended() {
			if ended == 0 {
				ended = now
			}
			d.cleans(now - ended)
			return now > ended+50*time.Minute
		}
		return over
	})
	return trips, cuts
}

// cleans empties the kettle behind the day and rinses it, hot and cold, as it comes.
func (d *shaped) cleans(since time.Duration) {
	p, part := d.kettle.Plant(), d.run.Profile.Water/2
	switch since {
	case 15 * time.Minute, 25 * time.Minute, 40 * time.Minute:
		d.pour(-(p.Truth().Volume - d.run.Profile.Water/20), 0)
	case 20 * time.Minute:
		d.pour(part, 75)
	case 30 * time.Minute:
		d.pour(part, 12)
	}
}

// hands do what a person does, the closing of the chiller's water late.
func (d *shaped) hands(k sim.Kind) {
	if k == sim.ChillerOff && d.late > 0 {
		d.shut = d.kettle.Now() + d.late
		return
	}
	d.kettle.Do(k)
}

// TestDaysOfEveryShapeAreLeftAlone: nothing is wrong in any of them, nor when
// the kettle is rinsed behind it, and nothing latches, on kettles that nobody chose a limit by.
func TestDaysOfEveryShapeAreLeftAlone(t *testing.T) {
	n := 1
	if *night {
		n = 100
	}
	n = cmp.Or(*campaignDays, n)
	all := shapes()
	type row struct{ days, latched, cut, fell int }
	rows := make([]row, len(all))
	var mu sync.Mutex
	spreadOver(n*len(all), func(i uint64) {
		which := int(i) % len(all)
		seed := cmp.Or(*campaignFrom, shapeSeeds) + i
		d := all[which].day(seed, i%2 == 1)
		if d == nil {
			return
		}
		trips, cuts := d.live()
		own := func(s string) bool { return s[:6] == "on-too" || s[:6] == "not-ar" }
		trips, cuts = slices.DeleteFunc(trips, own), slices.DeleteFunc(cuts, own)
		mu.Lock()
		defer mu.Unlock()
		r := &rows[which]
		r.days++
		if len(trips) > 0 {
			r.latched++
			t.Logf("kettle %d (%v, tuned %v), %s: %v", seed, d.kettle.Plant().Params().Probe.Place, d.run.Model.Good(), all[which].name, trips)
		}
		if len(cuts) > 0 {
			r.cut++
			if testing.Verbose() {
				t.Logf("kettle %d (%v), %s: cut %v", seed, d.kettle.Plant().Params().Probe.Place, all[which].name, cuts)
			}
		}
		if d.run.loop.State.Mode != controller.Complete {
			r.fell++
			t.Logf("  kettle %d, %s: %v %v", seed, all[which].name, d.run.loop.State.Mode, d.run.loop.State.Reason)
		}
	})
	for i, r := range rows {
		t.Logf("%-60s %4d days, %d latched, %d cut, %d not complete", all[i].name, r.days, r.latched, r.cut, r.fell)
		if r.latched > 0 {
			t.Errorf("%s: %d of %d days latched", all[i].name, r.latched, r.days)
		}
	}
}
