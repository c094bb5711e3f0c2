package daemon

import (
	"math"
	"sync/atomic"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/rehearse"
	"mashward/cmd/mashward/internal/wall"
	"mashward/controller"
	"mashward/controller/line"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/heat"
	"mashward/sensors"
	"mashward/sim"
)

// Kettle is what the daemon drives: pacer, probe and lines. Drop may be called
// from any goroutine, also while Next waits; the rest is the loop's.
type Kettle interface {
	loop.Pacer
	sensors.Probe
	Element() loop.Element
	Pump() line.Line
	Contactor() line.Line // nil where the rig has none
	Drop()
	Rearm()
	// Fill prepares a simulated kettle for a batch; a real one is filled by hand.
	Fill(profile.Profile)
	// Restore prepares a simulated kettle as it was when a batch was cut off. A
	// real one is as it is.
	Restore(profile.Profile, controller.State)
	// Hands does to a simulated kettle what a person says he has done.
	Hands(*loop.Frame)
}

// Simulated is a kettle on the simulator that takes its time.
type Simulated struct {
	params sim.Params
	pump   bool
	second bool          // there is a contactor in series with the element's relay
	speed  atomic.Uint64 // bits of a float64
	pace   wall.Pace
	bench  atomic.Pointer[sim.Bench]
	base   time.Duration // run clock less the bench's own
	seed   uint64
	// The kettle's own memory of Drop: it outlives the bench.
	dropped atomic.Bool
}

// NewSimulated is a kettle half full of cold water. Speed is times real time;
// 0 does not wait at all.
func NewSimulated(rig config.Rig, params sim.Params, speed float64) *Simulated {
	s := &Simulated{params: params, pump: rig.Pump.Present(), second: rig.Contactor.Present()}
	s.SetSpeed(speed)
	s.setUp(sim.Load{Water: rig.Kettle.Capacity / 2})
	return s
}

// Speed is how many seconds of the kettle pass in one.
func (s *Simulated) Speed() float64 { return math.Float64frombits(s.speed.Load()) }

// SetSpeed changes the pace from the next tick on.
func (s *Simulated) SetSpeed(speed float64) { s.speed.Store(math.Float64bits(speed)) }

// setUp puts a new kettle on the bench. Its first second passes unseen, so that
// its probe has something to say in the very tick it is set up in; the run
// clock goes on as if nothing had happened.
func (s *Simulated) setUp(load sim.Load) {
	now := s.base
	if b := s.bench.Load(); b != nil {
		now += b.Now()
	}
	s.seed++
	bench := sim.NewBench(sim.New(s.params, load, s.seed), nil, s.seed)
	if s.second {
		bench.Contactor()
	}
	first, _ := bench.Next()
	s.base = now - first
	s.bench.Store(bench)
	if s.dropped.Load() {
		s.Drop() // whoever dropped it saw the old bench only
	}
}

// Next waits until the next simulated second is over.
func (s *Simulated) Next() (time.Duration, bool) {
	s.pace.Wait(s.Speed())
	now, ok := s.bench.Load().Next()
	return s.base + now, ok
}

// Overruns counts ticks that were skipped.
func (s *Simulated) Overruns() uint64 { return s.pace.Missed() }

// Late is how late the ticks began.
func (s *Simulated) Late() *wall.Lateness { return s.pace.Late() }

// Latest is the newest reading, on the daemon's run clock.
func (s *Simulated) Latest() sensors.Reading {
	r := s.bench.Load().Latest()
	r.Taken += s.base
	return r
}

// Element is the element's line. It follows the bench that is in use.
func (s *Simulated) Element() loop.Element { return (*simElement)(s) }

// Pump is the pump's line, nil where the rig has none.
func (s *Simulated) Pump() line.Line {
	if !s.pump {
		return nil
	}
	return (*simPump)(s)
}

// Contactor is the contactor's line, nil where the rig has none.
func (s *Simulated) Contactor() line.Line {
	if !s.second {
		return nil
	}
	return (*simContactor)(s)
}

// Drop takes heat and pump away.
func (s *Simulated) Drop() {
	s.dropped.Store(true)
	b := s.bench.Load()
	b.Element().Drop()
	b.Pump().Drop()
	if s.second {
		b.Contactor().Drop()
	}
}

// Rearm lets the lines be held again; it leaves them off. It is the loop's.
func (s *Simulated) Rearm() {
	s.dropped.Store(false)
	b := s.bench.Load()
	b.Element().Rearm()
	b.Pump().Rearm()
	if s.second {
		b.Contactor().Rearm()
	}
}

// Fill empties the simulated kettle and fills it with the profile's water.
func (s *Simulated) Fill(p profile.Profile) { s.setUp(config.Load(p)) }

// Restore fills the simulated kettle, and puts in and takes out what the batch
// had come to, all at the temperature it had.
func (s *Simulated) Restore(p profile.Profile, state controller.State) {
	s.setUp(config.Load(p))
	plant := s.Plant()
	if g := state.Deeds.Grain; g.Mass > 0 {
		plant.Do(sim.Event{Kind: sim.GrainIs, Kilograms: g.Mass, Temperature: g.At})
	}
	if state.GrainIn || state.Lifted {
		plant.Do(sim.Event{Kind: sim.GrainIn})
	}
	if state.Lifted {
		plant.Do(sim.Event{Kind: sim.Lift})
	}
	if told := state.Deeds.Added - state.Deeds.Drawn; told >= 0 {
		plant.Do(sim.Event{Kind: sim.WaterIn, Litres: told, Temperature: state.Outage.At})
	} else {
		plant.Do(sim.Event{Kind: sim.WaterOut, Litres: -told})
	}
	if state.Outage.Read {
		plant.Warm(state.Outage.At)
	}
}

// Hands does to the simulated kettle what a person says he has done.
func (s *Simulated) Hands(f *loop.Frame) {
	d := &f.Decision
	for _, e := range d.Events[:d.Count] {
		switch {
		case e.Kind == controller.PromptRaised && controller.Prompt(e.Value) == controller.AskChillerOff:
			s.do(sim.ChillerOff)
		case e.Kind == controller.Accepted:
			s.do(deed(controller.Wish(e.Value), f.Decision.Stage))
			s.move(f, controller.Wish(e.Value))
		}
	}
}

func (s *Simulated) do(k sim.Kind) { s.bench.Load().Plant().Do(sim.Event{Kind: k}) }

// move puts in and takes out what a person says he has.
func (s *Simulated) move(f *loop.Frame, w controller.Wish) {
	c, plant := &f.Tick.Command, s.Plant()
	switch w {
	case controller.Added:
		plant.Do(sim.Event{Kind: sim.WaterIn, Litres: heat.ColdFrom(c.Volume, c.At), Temperature: c.At})
	case controller.TookOut:
		plant.Do(sim.Event{Kind: sim.WaterOut, Litres: heat.ColdFrom(c.Volume, plant.Mash())})
	case controller.GrainIs:
		plant.Do(sim.Event{Kind: sim.GrainIs, Kilograms: c.Grain, Temperature: c.At})
	}
}

// deed is what a person must have done to say so.
func deed(w controller.Wish, stage controller.Stage) sim.Kind {
	switch w {
	case controller.GrainIn:
		return sim.GrainIn
	case controller.BagClear:
		return sim.Lift
	case controller.HereLidOff, controller.LidOff:
		return sim.LidOff
	case controller.LidOn:
		return sim.LidOn
	case controller.ChillerIn:
		if stage == controller.Boil {
			return sim.ChillerHung
		}
		return sim.ChillerOn
	}
	return sim.None
}

// Below is what a witness asks of a simulated kettle.

// Do acts on the kettle.
func (s *Simulated) Do(k sim.Kind) { s.do(k) }

// Mash is the true temperature of the mash.
func (s *Simulated) Mash() unit.Celsius { return s.bench.Load().Plant().Mash() }

// Plant is the plant on the bench.
func (s *Simulated) Plant() *sim.Plant { return s.bench.Load().Plant() }

// PowerLost tells that a fault has cut the supply.
func (s *Simulated) PowerLost() bool { return s.bench.Load().Effects().PowerCut }

// Told is for faults, of which there are none here.
func (s *Simulated) Told(rehearse.Moment, int) {}

// Switches counts the closings of the element's relay since it was filled.
func (s *Simulated) Switches() int { return s.bench.Load().Element().Closings() }

// Energy is what the element has put in since the kettle was filled.
func (s *Simulated) Energy() unit.Joules { return s.Plant().Truth().Energy }

// Err is always nil: a bench does not fail.
func (s *Simulated) Err() error { return nil }

type simElement Simulated

func (e *simElement) line() *sim.Line { return e.bench.Load().Element() }

// Hold implements line.Line.
func (e *simElement) Hold(r unit.Relay, lease time.Duration) error { return e.line().Hold(r, lease) }

// Drop implements line.Line.
func (e *simElement) Drop() { e.line().Drop() }

// Applied implements loop.Element.
func (e *simElement) Applied() unit.Relay { return e.line().Applied() }

type simContactor Simulated

func (c *simContactor) line() *sim.Line { return c.bench.Load().Contactor() }

// Hold implements line.Line.
func (c *simContactor) Hold(r unit.Relay, lease time.Duration) error { return c.line().Hold(r, lease) }

// Drop implements line.Line.
func (c *simContactor) Drop() { c.line().Drop() }

type simPump Simulated

func (p *simPump) line() *sim.Line { return p.bench.Load().Pump() }

// Hold implements line.Line.
func (p *simPump) Hold(r unit.Relay, lease time.Duration) error { return p.line().Hold(r, lease) }

// Drop implements line.Line.
func (p *simPump) Drop() { p.line().Drop() }
