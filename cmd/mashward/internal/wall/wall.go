// Package wall is the only place where time really passes: it waits, so that a
// simulated day can be watched.
package wall

import "time"

// Pace lets simulated seconds pass at a chosen speed. Its deadlines follow one
// another, so that a late tick is caught up and no drift builds up.
type Pace struct {
	next time.Time
}

// Wait returns when a simulated second at this many times real time is over.
// A speed of zero or less does not wait.
func (p *Pace) Wait(speed float64) {
	if speed <= 0 {
		return
	}
	now := time.Now()
	if p.next.Before(now.Add(-time.Second)) {
		p.next = now
	}
	p.next = p.next.Add(time.Duration(float64(time.Second) / speed))
	if wait := p.next.Sub(now); wait > time.Millisecond {
		time.Sleep(wait)
	}
}
