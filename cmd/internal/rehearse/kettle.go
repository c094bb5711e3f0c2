package rehearse

import (
	"time"

	"mashward/controller/line"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/sensors"
	"mashward/sim"
	"mashward/sim/fault"
)

// Kettle is what stands behind pacer, probe and lines, with hands to act on it
// and, where it is known, the truth about it.
type Kettle interface {
	loop.Pacer
	sensors.Probe
	Element() loop.Element
	Pump() line.Line
	// Do acts on the kettle as a person would.
	Do(sim.Kind)
	// Mash is the true temperature of the mash.
	Mash() unit.Celsius
	// Plant is the simulated plant, nil where it runs in another process.
	Plant() *sim.Plant
	// PowerLost tells that the supply is cut: board and element are dead.
	PowerLost() bool
	// Told hears what the batch does, so that faults know their moment.
	Told(Moment, int)
	// Switches counts the closings of the element's relay.
	Switches() int
	// Energy is what the element has put in.
	Energy() unit.Joules
	// Err is why Next ended early.
	Err() error
}

// Moment is what a batch tells of itself.
type Moment uint8

// The moments faults wait for.
const (
	Armed Moment = iota
	StepBegan
	StepReached
)

// teller is the part of a fault injector that hears of moments.
type teller interface {
	Armed(now time.Duration)
	Started(step int, now time.Duration)
	Reached(step int, now time.Duration)
}

// Simulated is a kettle on the simulator's bench.
type Simulated struct {
	*sim.Bench
	Faults teller // nil: nothing goes wrong
}

// Bench is a simulated kettle with its load and its faults.
func Bench(p profile.Profile, params sim.Params, load sim.Load, script fault.Script, seed uint64) *Simulated {
	injector := fault.New(script, FromStart(p)...)
	return &Simulated{Bench: sim.NewBench(sim.New(params, load, seed), injector, seed), Faults: injector}
}

// Element is the element's line.
func (s *Simulated) Element() loop.Element { return s.Bench.Element() }

// Pump is the pump's line.
func (s *Simulated) Pump() line.Line { return s.Bench.Pump() }

// Contactor is the line of a contactor in series with the element's relay.
func (s *Simulated) Contactor() line.Line { return s.Bench.Contactor() }

// Do acts on the plant.
func (s *Simulated) Do(k sim.Kind) { s.Bench.Plant().Do(sim.Event{Kind: k}) }

// Mash is the true temperature of the mash.
func (s *Simulated) Mash() unit.Celsius { return s.Bench.Plant().Mash() }

// PowerLost tells that a fault has cut the supply.
func (s *Simulated) PowerLost() bool { return s.Bench.Effects().PowerCut }

// Told passes a moment on to the faults.
func (s *Simulated) Told(m Moment, step int) {
	if s.Faults == nil {
		return
	}
	switch m {
	case Armed:
		s.Faults.Armed(s.Now())
	case StepBegan:
		s.Faults.Started(step, s.Now())
	case StepReached:
		s.Faults.Reached(step, s.Now())
	}
}

// Switches counts the closings of the element's relay.
func (s *Simulated) Switches() int { return s.Bench.Element().Closings() }

// Energy is what the element has put in.
func (s *Simulated) Energy() unit.Joules { return s.Bench.Plant().Truth().Energy }

// Err is always nil: a bench does not fail.
func (s *Simulated) Err() error { return nil }
