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
	late   Lateness
}

// Bounds are the upper bounds of the lateness that is counted, in seconds.
var Bounds = [...]float64{0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 3}

// Lateness counts how late ticks began. It may be read from anywhere.
type Lateness struct {
	within [len(Bounds) + 1]atomic.Uint64
	sum    atomic.Int64 // ns
}

func (l *Lateness) add(d time.Duration) {
	i := 0
	for i < len(Bounds) && d.Seconds() > Bounds[i] {
		i++
	}
	l.within[i].Add(1)
	l.sum.Add(int64(d))
}

// Read gives the ticks so far, those at most as late as each bound, and the
// sum of it all in seconds.
func (l *Lateness) Read() (ticks uint64, within map[float64]uint64, sum float64) {
	within = make(map[float64]uint64, len(Bounds))
	for i := range l.within {
		ticks += l.within[i].Load()
		if i < len(Bounds) {
			within[Bounds[i]] = ticks
		}
	}
	return ticks, within, time.Duration(l.sum.Load()).Seconds()
}

// After calls f once so much time has passed, unless stop is called before.
func After(d time.Duration, f func()) (stop func()) {
	t := time.AfterFunc(d, f)
	return func() { t.Stop() }
}

// Late is how late the ticks of this pace began.
func (p *Pace) Late() *Lateness { return &p.late }

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
	p.late.add(max(0, time.Since(p.next)))
}
