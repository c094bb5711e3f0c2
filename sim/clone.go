package sim

import "mashward/sim/fault"

// Clone is a second bench in the same state, plant and lines included, with
// faults of its own (nil: none). It starts with the same chances.
func (b *Bench) Clone(injector *fault.Injector) *Bench {
	c := &Bench{
		End: b.End, plant: b.plant.Clone(), injector: injector, now: b.now, lastOn: b.lastOn, lastPump: b.lastPump,
		series: b.series, reading: b.reading, frozen: b.frozen, effects: b.effects, noise: b.noise,
	}
	c.element.copy(&b.element, c)
	c.pump.copy(&b.pump, c)
	c.contactor.copy(&b.contactor, c)
	return c
}

// copy takes over what another bench's line does.
func (l *Line) copy(from *Line, b *Bench) {
	l.clock, l.held, l.until, l.applied = &b.now, from.held, from.until, from.applied
	l.onTime, l.closings = from.onTime, from.closings
	l.dropped.Store(from.dropped.Load())
}
