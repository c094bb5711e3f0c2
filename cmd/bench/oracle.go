package main

import (
	"mashward/controller/unit"
	"mashward/sim"
)

// What the physical limit may peak over, and how it holds.
const (
	peakAllowed = 0.02 // K
	oracleTime  = 20.0 // s in which it closes what it sees of a deviation
	oracleSlow  = 8 * oracleTime
)

// oracle is the best of all controllers: it sees the true mash, can try on a
// copy what will happen, and its element takes any power. No real controller
// can be that; it shows what there is to be won.
type oracle struct {
	decided bool
	off     int // second from which the element is off
	second  int
	peaked  bool
	highest unit.Celsius
	stored  float64 // integral part of the power it holds with, as a share
}

// begin forgets the rest before.
func (o *oracle) begin() { *o = oracle{stored: o.stored} }

// drive lets one second pass on a healthy kettle.
func (o *oracle) drive(p *sim.Plant, goal float64) {
	if !o.decided {
		o.decided, o.off = true, latestOff(p, unit.Celsius(goal))
		o.highest = p.Mash()
	}
	share := o.share(p, goal)
	o.second++
	p.SetCondition(sim.Condition{ElementLost: 1 - unit.Ratio(share)})
	p.Advance(unit.On, unit.On)
	p.SetCondition(sim.Condition{})
}

// share is the power for the next second: full until the latest second, then
// none until the mash has come to rest, then what holds it.
func (o *oracle) share(p *sim.Plant, goal float64) float64 {
	mash := p.Mash()
	if o.second < o.off {
		return 1
	}
	o.highest = max(o.highest, mash)
	if !o.peaked {
		o.peaked = mash < o.highest-1e-4
		return 0
	}
	gain := capacityOf(p) / float64(p.FullPower()) / oracleTime
	miss := goal - float64(mash)
	o.stored += gain * miss / oracleSlow
	o.stored = min(max(o.stored, 0), 1)
	return min(max(gain*miss+o.stored, 0), 1)
}

// capacityOf is about what stands in the kettle, J/K.
func capacityOf(p *sim.Plant) float64 {
	const water = 4180 // J/(L K), cold litres
	return float64(p.Truth().Volume)*water + float64(p.Params().Vessel.Capacity)
}

// latestOff is the latest second from which the element can be off without the
// true mash peaking too high. Later means hotter, so halving finds it.
func latestOff(p *sim.Plant, goal unit.Celsius) int {
	low, high := 0, 1
	for !peaksOver(p, goal, high) {
		low, high = high, 2*high
	}
	for high-low > 1 {
		middle := (low + high) / 2
		if peaksOver(p, goal, middle) {
			high = middle
		} else {
			low = middle
		}
	}
	return low
}

// peaksOver heats a copy for so many seconds, and waits until it falls.
func peaksOver(p *sim.Plant, goal unit.Celsius, seconds int) bool {
	q := p.Clone()
	highest := q.Mash()
	for s := 0; s < seconds || q.Mash() > highest-0.005; s++ {
		q.Advance(unit.RelayOf(s < seconds), unit.On)
		highest = max(highest, q.Mash())
		if highest > goal+peakAllowed {
			return true
		}
	}
	return false
}
