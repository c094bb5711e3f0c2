// Package modulate turns a duty (0..1) into the state of a relay for the next
// second, so that over a little while the relay delivers just that duty.
//
// Two kinds of relay ask for two ways. A solid-state relay may change every
// second: one tick is the shortest pulse and the rounding error is carried to
// the next. A mechanical relay wears with each closing: a window of 20 s begins
// with each, in which it does not close again, and it stays at least 4 s in a
// state. So it closes at most 180 times in any hour.
package modulate

import (
	"time"

	"mashward/controller/unit"
)

// Kind is the kind of relay. The zero value is the one that wears, so that a
// forgotten kind is the gentle one.
type Kind uint8

// The kinds of relay.
const (
	Mechanical Kind = iota
	SolidState
)

// String is the word used in rig files.
func (k Kind) String() string {
	if k == SolidState {
		return "solid-state"
	}
	return "mechanical"
}

// Window and MinOn are the figures of the mechanical relay: 3600 s / 20 s is
// 180 closings an hour at most.
const (
	Window = 20 * time.Second
	MinOn  = 4 * time.Second
)

// State is what modulation remembers. The zero value is a relay that is off
// and owes nothing.
type State struct {
	Relay   unit.Relay
	Carry   float64       // seconds of heat owed (+) or given too much (-)
	InState time.Duration // how long the relay has been as it is
	InWin   time.Duration // how far the mechanical window has run since the last closing
	Closed  bool          // that window still runs: the relay may not close
}

// Step gives the relay from now on; dt is how long ago the last Step was, and how
// long this one is taken to last. A duty of zero switches off at once, whatever a
// minimum says: off is never limited.
func Step(s State, kind Kind, duty unit.Duty, dt time.Duration) (State, unit.Relay) {
	duty = duty.Clamp()
	if s != (State{}) { // a new state knows of no time before it
		s.InState += max(dt, 0)
	}
	if dt <= 0 || duty == 0 {
		return s.rest(max(dt, 0)), unit.Off
	}
	if kind == SolidState {
		return s.pulse(duty, dt)
	}
	return s.window(duty, dt)
}

// rest is the state after an immediate off: nothing is owed any more, but a
// mechanical relay still remembers how far its window has run.
func (s State) rest(dt time.Duration) State {
	s.Carry = 0
	s.InWin = min(s.InWin+dt, Window)
	s.Closed = s.Closed && s.InWin < Window
	return s.be(unit.Off)
}

// pulse is the solid-state way: on in this tick when at least half a tick of
// heat is owed.
func (s State) pulse(duty unit.Duty, dt time.Duration) (State, unit.Relay) {
	tick := dt.Seconds()
	s.Carry += float64(duty) * tick
	relay := unit.RelayOf(s.Carry >= tick/2)
	if relay == unit.On {
		s.Carry -= tick
	}
	return s.be(relay), relay
}

// window is the mechanical way: at most one pulse a window, its length compared live
// with the duty, so that a falling duty may end it early.
func (s State) window(duty unit.Duty, dt time.Duration) (State, unit.Relay) {
	s.InWin = min(s.InWin+dt, Window)
	s.Closed = s.Closed && s.InWin < Window
	s.Carry = clamp(s.Carry+float64(duty)*dt.Seconds(), 2*MinOn.Seconds()+Window.Seconds())
	relay := s.wish(duty)
	if relay == unit.On {
		s.Carry -= dt.Seconds()
		if duty >= 1 {
			// Full power is not made up for later: whoever asked for it has seen
			// what was really applied, and ends it in time for that.
			s.Carry = min(s.Carry, 0)
		}
	}
	return s.be(relay), relay
}

// wish decides on or off by what is owed, bounded by the minimum times and by
// the window since the last closing.
func (s State) wish(duty unit.Duty) unit.Relay {
	if s.Relay == unit.On {
		if s.InState < MinOn {
			return unit.On
		}
		return unit.RelayOf(duty >= 1 || s.Carry > 0)
	}
	if s.InState < MinOn || s.Closed {
		return unit.Off
	}
	// Wait until a pulse worth closing for is owed: half the on-time of a whole
	// window at this duty, at least half the shortest pulse.
	worth := max(MinOn.Seconds(), float64(duty)*(1-float64(duty))*Window.Seconds()) / 2
	return unit.RelayOf(s.Carry >= worth)
}

// be records the chosen state; the time in it begins anew when it changes.
func (s State) be(relay unit.Relay) State {
	if relay != s.Relay {
		s.InState = 0
		if relay == unit.On {
			s.InWin, s.Closed = 0, true
		}
	}
	s.Relay = relay
	return s
}

func clamp(x, limit float64) float64 { return min(max(x, -limit), limit) }
