package main

import (
	"fmt"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/rehearse"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/modulate"
	"mashward/controller/observer"
	"mashward/controller/pid"
	"mashward/controller/tune"
	"mashward/profile/plan"
	"mashward/sim"
	"mashward/sim/kettles"
)

// player is a row of the table.
type player uint8

const (
	thermostatHalf player = iota
	thermostatOne
	zieglerNichols
	amigo
	simc
	untuned
	tuned
	limit
	players
)

var playerNames = [players]string{
	"thermostat 0.5 K", "thermostat 1 K", "Ziegler-Nichols", "AMIGO", "SIMC",
	"mashward untuned", "mashward tuned", "physical limit",
}

// world is how the kettles of one part of the table differ from those tuned.
type world struct {
	name    string
	change  func(*kettles.Kettle)
	mishap  mishap
	relay   plan.RelayKind
	players []player
	// mistaken: volume, power or delays are not those tuned for.
	mistaken bool
}

const mechanicalRelay = "mechanical relay"

func nothing(*kettles.Kettle) {}

// worlds are the parts of the table.
func worlds() []world {
	some := []player{thermostatHalf, simc, tuned}
	all := make([]player, players)
	for i := range all {
		all[i] = player(i)
	}
	ws := []world{{name: "as tuned", change: nothing, relay: plan.SolidState, players: all}}
	for _, c := range rehearse.Changes() {
		ws = append(ws, world{name: c.Name, change: c.Do, relay: plan.SolidState, players: some, mistaken: true})
	}
	return append(ws,
		world{name: "probe reads 1 K too high", relay: plan.SolidState, players: some, change: func(k *kettles.Kettle) { k.Plant.Probe.Offset = 1 }},
		world{
			name: "supply 10 % low from 5 min into 63 °C on", relay: plan.SolidState, players: some, change: nothing,
			mishap: mishap{from: 5 * time.Minute, condition: sim.Condition{Sag: 0.10}},
		},
		world{
			name: "lid off from 5 to 15 min into 63 °C", relay: plan.SolidState, players: some, change: nothing,
			mishap: mishap{from: 5 * time.Minute, until: 15 * time.Minute, condition: sim.Condition{LidOff: true}},
		},
		world{name: mechanicalRelay, relay: plan.Mechanical, players: some, change: nothing},
	)
}

// score is how one player did on one kettle.
type score struct {
	rests    [rests]figures
	switches float64 // closings an hour
	trouble  string  // how the batch ended, if not well
}

// tunedKettle is a kettle after its one water test.
type tunedKettle struct {
	seed   uint64
	kettle kettles.Kettle
	found  config.Tuning
	model  observer.Model
}

// tuneKettle runs the water test on the kettle of a seed.
func tuneKettle(seed uint64) (tunedKettle, error) {
	k := kettles.Random(seed)
	rig, result, err := rehearse.TuneRandom(k, rehearse.RigOf(k, plan.SolidState), seed)
	if err != nil {
		return tunedKettle{}, fmt.Errorf("kettle %d: %w", seed, err)
	}
	return tunedKettle{seed: seed, kettle: k, found: *rig.Found, model: result.Model}, nil
}

// contest lets all players of a world run on one kettle, the rivals from the
// state that mashward's mash-in has left.
func (t tunedKettle) contest(w world) ([players]score, error) {
	var scores [players]score
	var start *sim.Plant
	rig := rehearse.RigOf(t.kettle, w.relay)
	for _, p := range []player{tuned, untuned} {
		if !w.has(p) {
			continue
		}
		r := rig
		if p == tuned {
			r = rig.Tuned(t.found)
		}
		s, after, err := t.mash(r, w)
		if err != nil {
			return scores, fmt.Errorf("kettle %d, %s, %s: %w", t.seed, w.name, playerNames[p], err)
		}
		scores[p] = s
		if p == tuned {
			start = after
		}
	}
	process, load := t.process(rig)
	for _, p := range w.players {
		if d := t.rival(p, w, process, load); d != nil {
			scores[p] = race(start, d, w.mishap)
		}
	}
	return scores, nil
}

func (w world) has(p player) bool {
	for _, q := range w.players {
		if p == q {
			return true
		}
	}
	return false
}

// process is what the rivals are tuned for: the model of the water test with
// the planned mash in it.
func (t tunedKettle) process(rig config.Rig) (tune.Process, observer.Model) {
	d, _ := plan.Make(rehearse.FourRests(t.kettle), rig.PlanKettle())
	m := withMash(t.model, rehearse.Core(rehearse.FourRests(t.kettle), d).LoadMash)
	return reduce(m), m
}

// rival is a player that is not mashward; nil for one that is.
func (t tunedKettle) rival(p player, w world, process tune.Process, m observer.Model) driver {
	relay := modulate.Mechanical
	if w.relay == plan.SolidState {
		relay = modulate.SolidState
	}
	book := func(g pid.Gains) driver { return &blind{decider: &textbook{gains: g, relay: relay}} }
	switch p {
	case thermostatHalf:
		return &blind{decider: &thermostat{hysteresis: 0.5, relay: relay}}
	case thermostatOne:
		return &blind{decider: &thermostat{hysteresis: 1, relay: relay}}
	case zieglerNichols:
		return book(relayCycle(m).gains(swing))
	case amigo:
		return book(tune.AMIGO(process))
	case simc:
		return book(pid.SIMC(process.Gain, process.Delay, process.Delay))
	case limit:
		return &oracle{}
	}
	return nil
}

// race lets a driver run a copy of a kettle through the rests.
func race(start *sim.Plant, d driver, m mishap) score {
	p := start.Clone()
	r := referee{plant: p, goals: goalsOf(p), mishap: m}
	seconds := 0
	for range programme {
		r.begin()
		d.begin()
		for over := false; !over; over = r.second() {
			d.drive(p, r.courses[len(r.courses)-1].goal)
			seconds++
		}
	}
	closings := 0
	if b, ok := d.(*blind); ok {
		closings = b.closings
	}
	return r.score(closings, seconds)
}

// score sums up what the referee saw. A rest that never came was never reached.
func (r *referee) score(closings, seconds int) score {
	s := score{switches: float64(closings) / float64(seconds) * 3600}
	for i := range s.rests {
		s.rests[i] = figures{ratio: never, overshoot: never, rms: never, hot: never}
	}
	for i := range r.courses {
		s.rests[i] = r.courses[i].judged()
	}
	return s
}

// mash is a whole rehearsal with mashward, from cold water on, its rests ended
// by the referee; and the kettle as it was when the mash-in was over.
func (t tunedKettle) mash(rig config.Rig, w world) (score, *sim.Plant, error) {
	k := t.kettle
	w.change(&k)
	profile := rehearse.FourRests(t.kettle)
	d, problems := plan.Make(profile, rig.PlanKettle())
	if plan.Refused(problems) {
		return score{}, nil, fmt.Errorf("the plan refuses a day of the domain: %v", problems)
	}
	for i := 1; i < len(profile.Steps); i++ {
		profile.Steps[i].For += patience // the referee ends them
	}
	plant := sim.New(k.Plant, k.Load, t.seed)
	bench := &rehearse.Simulated{Bench: sim.NewBench(plant, nil, t.seed)}
	f := follower{referee: referee{plant: plant, mishap: w.mishap}, kettle: bench}
	run := rehearse.On(rig, profile, d, bench)
	run.Bare, run.Leaves = true, f.leaves
	result, err := run.Go()
	if err != nil {
		return score{}, nil, err
	}
	if f.start == nil {
		return score{}, nil, fmt.Errorf("no rest was begun: %s (%s)", result.Outcome, result.Reason)
	}
	s := f.referee.score(f.last-f.first, f.seconds)
	if result.Outcome != controller.Complete.String() {
		s.trouble = result.Outcome + " (" + result.Reason + ")"
	}
	return s, f.start, nil
}

// follower has the referee look at a rehearsal.
type follower struct {
	referee     referee
	kettle      *rehearse.Simulated
	start       *sim.Plant // when the mash-in was over
	first, last int        // closings of the relay by then, and at the end
	seconds     int
}

// leaves is asked each second; true ends the rest.
func (f *follower) leaves(frame *loop.Frame) bool {
	d := &frame.Decision
	for _, e := range d.Events[:d.Count] {
		if e.Kind == controller.StepStarted && e.Step >= 2 {
			f.begin()
			return false
		}
	}
	if f.start == nil || !f.referee.running() {
		return false
	}
	f.seconds++
	over := f.referee.second()
	f.last = f.kettle.Switches()
	return over
}

func (f *follower) begin() {
	if f.start == nil {
		f.start = f.referee.plant.Clone()
		f.referee.goals = goalsOf(f.start)
		f.first = f.kettle.Switches()
	}
	f.referee.begin()
}
