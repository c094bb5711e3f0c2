// Package wall is the only place where time really passes: it waits, so that a
// simulated day can be watched.
package wall

import (
	"sync/atomic"
	"time"
)

// Pace lets simulated seconds pass at a chosen speed. Its deadlines follow one
// another, so that a late tick is caught up and no drift builds up.
type Pace struct {
	next   time.Time
	missed atomic.Uint64
}

// Missed counts the ticks that were skipped because the process was away for
// too long. It may be called from anywhere.
func (p *Pace) Missed() uint64 { return p.missed.Load() }

// Wait returns when a simulated second at this many times real time is over.
// A speed of zero or less does not wait.
func (p *Pace) Wait(speed float64) {
	if speed <= 0 {
		return
	}
	now, period := time.Now(), time.Duration(float64(time.Second)/speed)
	// What is more than a second behind is not caught up in a bunch.
	if behind := now.Sub(p.next); behind > time.Second {
		if !p.next.IsZero() {
			p.missed.Add(uint64(behind / period))
		}
		p.next = now
	}
	p.next = p.next.Add(period)
	if wait := p.next.Sub(now); wait > time.Millisecond {
		time.Sleep(wait)
	}
}
