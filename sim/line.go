package sim

import (
	"errors"
	"sync/atomic"
	"time"

	"mashward/controller/unit"
)

// ErrDropped says that a line was dropped and has not been rearmed since.
var ErrDropped = errors.New("the line was dropped: rearm it before it can be switched on")

// Line is a relay line of the bench. On is a lease: it ends by itself.
type Line struct {
	clock    *time.Duration // the bench's
	held     unit.Relay
	until    time.Duration
	dropped  atomic.Bool
	applied  unit.Relay
	onTime   time.Duration
	closings int
}

// Hold sets the line for as long as the lease says from now on, and no longer.
// A dropped line refuses On with ErrDropped and stays off.
func (l *Line) Hold(r unit.Relay, lease time.Duration) error {
	l.held, l.until = unit.Off, *l.clock
	if r != unit.On {
		return nil
	}
	if l.dropped.Load() {
		return ErrDropped
	}
	l.held, l.until = unit.On, *l.clock+lease
	return nil
}

// Drop takes the line off at once and for good, until Rearm. It may be called
// from anywhere.
func (l *Line) Drop() { l.dropped.Store(true) }

// Rearm lets a dropped line be held again. It leaves it off.
func (l *Line) Rearm() {
	l.held = unit.Off
	l.dropped.Store(false)
}

// Applied is what the line did in the last tick: On, if it was on for at least
// half of it. It is what is known of the line's own side; a welded contact
// behind it does not show here.
func (l *Line) Applied() unit.Relay { return l.applied }

// OnTime is how long the line was on in the last tick.
func (l *Line) OnTime() time.Duration { return l.onTime }

// Closings counts how often the line went from off to on.
func (l *Line) Closings() int { return l.closings }

// during is the line's state in the second that begins now. A lease that runs
// out within the second does not count for it: in doubt, off.
func (l *Line) during(dead bool, was unit.Relay) unit.Relay {
	lasts := l.until >= *l.clock+time.Second
	r := unit.RelayOf(l.held == unit.On && lasts && !dead && !l.dropped.Load())
	if r == unit.On {
		l.onTime += time.Second
		if was == unit.Off {
			l.closings++
		}
	}
	return r
}
