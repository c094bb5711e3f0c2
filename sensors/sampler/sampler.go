// Package sampler asks a thermometer again and again in a goroutine of its own
// and keeps the newest reading, so that the loop never waits for a bus.
//
// A question that hangs, hangs alone: one goroutine waits for it, no further
// one is begun, and the reading that stands grows old. Age is what takes the
// heat away then.
package sampler

import (
	"sync"
	"sync/atomic"
	"time"

	"mashward/controller/unit"
	"mashward/sensors"
)

// Source asks the thermometer once. It may take as long as hardware takes.
type Source interface {
	Read() (unit.Celsius, sensors.Fault)
}

// Sampler implements sensors.Probe.
type Sampler struct {
	newest atomic.Pointer[sensors.Reading]
	quit   chan struct{}
	ending sync.Once
}

// Start begins to ask. Clock is the run clock; from one question to the next
// there is at least the time every.
func Start(s Source, clock func() time.Duration, every time.Duration) *Sampler {
	p := &Sampler{quit: make(chan struct{})}
	p.newest.Store(&sensors.Reading{})
	go p.ask(s, clock, every)
	return p
}

// Latest implements sensors.Probe. Before the first answer it is the zero
// reading, which has no value.
func (p *Sampler) Latest() sensors.Reading { return *p.newest.Load() }

// Stop ends the questions. It does not wait for one that is under way.
func (p *Sampler) Stop() { p.ending.Do(func() { close(p.quit) }) }

// ask keeps asking. A reading is dated from before its question: nobody knows
// when in between it was measured, and older is the safe side.
func (p *Sampler) ask(s Source, clock func() time.Duration, every time.Duration) {
	for {
		asked := clock()
		value, fault := s.Read()
		r := &sensors.Reading{Taken: asked, Fault: fault}
		if fault == sensors.None {
			r.Value = value
		}
		p.newest.Store(r)
		pause := time.NewTimer(max(0, asked+every-clock()))
		select {
		case <-pause.C:
		case <-p.quit:
			pause.Stop()
			return
		}
	}
}
