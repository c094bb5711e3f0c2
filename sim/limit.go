package sim

import (
	"time"

	"mashward/controller/unit"
)

// What counts as reached, as peaking over, and when a search gives up.
const (
	reachedWithin = 0.3  // K
	peakAllowed   = 0.02 // K over the target
	longestHeatUp = 24 * 3600
	stalledAfter  = 1800 // s in which less than peakAllowed is gained
	keptEvery     = 64   // s between kept states of the heating
)

// Offset is the true mash minus the true temperature at the probe's place, in
// steady state with that place at target, pump on: what no controller can know.
// It is found on a copy, held by exactly the power it loses.
func Offset(p *Plant, target unit.Celsius) unit.Kelvin {
	q := p.Clone()
	q.chiller, q.stir, q.cond.Drain = false, 0, 0
	place := placeNode(q.par.Probe.Place)
	q.shift(float64(target) - q.x[place])
	offset := unit.Kelvin(0)
	for range 40 {
		for range 300 {
			q.second(q.losing(unit.On), unit.On)
		}
		q.shift(float64(target) - q.x[place])
		found := q.Mash().Minus(target)
		if settled := found - offset; settled < 1e-5 && settled > -1e-5 {
			return found
		}
		offset = found
	}
	return offset
}

// shift moves the temperature of everything by k.
func (p *Plant) shift(k float64) {
	for i := range nodeMass {
		p.x[i] += k
	}
}

// losing is the power that leaves the plant now, W; never below 0.
func (p *Plant) losing(pump unit.Relay) float64 {
	p.prepare(0, pump)
	var d state
	p.slope(&p.x, &d)
	carried := -d[nodeMass] * water * p.x[nodeOutside] // leaves with its mass, costs no power
	return max(d[nodeLost]+d[nodeVapour]-carried, 0)
}

// Limit is how fast this plant can be brought from its present state to within
// 0.3 K of a target by the best of all controllers: full power (under a ramp
// ceiling, the power that just follows it), switched off at the latest second
// from which the true mash less the offset peaks at most 0.02 K over. Pump on.
// It is false where the start is within 0.3 K, or above, or where the target
// cannot be reached. A ramp of 0 is no ceiling.
func Limit(p *Plant, target unit.Celsius, offset unit.Kelvin, ramp unit.KelvinPerSecond) (time.Duration, bool) {
	h := heatUp{goal: target.Plus(offset), ramp: ramp}
	h.start = p.Mash()
	if h.start >= h.goal-reachedWithin {
		return 0, false
	}
	off, ok := h.latestOff(p)
	if !ok {
		return 0, false
	}
	return h.reached(off)
}

// heatUp is one heating at the limit: states kept on the way, so that any
// second of it can be returned to.
type heatUp struct {
	goal  unit.Celsius // of the true mash
	start unit.Celsius
	ramp  unit.KelvinPerSecond
	kept  []Plant // after 0, keptEvery, 2 keptEvery, ... seconds
}

// latestOff is the latest second from which heat off does not peak over. Later
// means hotter, so halving finds it.
func (h *heatUp) latestOff(p *Plant) (int, bool) {
	over, ok := h.run(p)
	off := 0
	for ok && over-off > 1 {
		middle := (off + over) / 2
		if h.peaksOver(middle) {
			over = middle
		} else {
			off = middle
		}
	}
	return off, ok
}

// run heats until the mash is above what is allowed, and gives that second.
func (h *heatUp) run(p *Plant) (int, bool) {
	q := p.Clone()
	best, bestAt := q.Mash(), 0
	for second := 0; second < longestHeatUp; second++ {
		if second%keptEvery == 0 {
			h.kept = append(h.kept, *q)
		}
		h.heat(q, second)
		now := q.Mash()
		if now > h.goal+peakAllowed {
			return second + 1, true
		}
		if now > best+peakAllowed {
			best, bestAt = now, second
		}
		if second-bestAt > stalledAfter {
			return 0, false
		}
	}
	return 0, false
}

// heat lets one second pass under the power of the limit.
func (h *heatUp) heat(q *Plant, second int) {
	watts := float64(q.FullPower())
	if h.ramp > 0 {
		wanted := float64(h.start) + float64(h.ramp)*float64(second+1)
		_, wort := q.wort()
		capacity := wort + q.grainCapacity + float64(q.par.Vessel.Capacity) + float64(q.par.Element.Capacity)
		follow := q.losing(unit.On) + capacity*(float64(h.ramp)+(wanted-float64(h.ramp)-float64(q.Mash()))/60)
		watts = min(max(follow, 0), watts)
	}
	q.second(watts, unit.On)
}

// at is the state after so many seconds of heating.
func (h *heatUp) at(seconds int) *Plant {
	from := min(seconds/keptEvery, len(h.kept)-1)
	q := h.kept[from].Clone()
	for s := from * keptEvery; s < seconds; s++ {
		h.heat(q, s)
	}
	return q
}

// peaksOver tells whether heat off after so many seconds still peaks too high.
// After heat off the sheath can only give, so the mash rises once and falls.
func (h *heatUp) peaksOver(seconds int) bool {
	q := h.at(seconds)
	peak := q.Mash()
	for range longestHeatUp {
		now := q.Mash()
		if now > h.goal+peakAllowed {
			return true
		}
		if peak = max(peak, now); now < peak-0.005 {
			return false
		}
		q.second(0, unit.On)
	}
	return false
}

// reached is when the mash first comes within reach, heat off after so many
// seconds.
func (h *heatUp) reached(off int) (time.Duration, bool) {
	first := 0
	for first < len(h.kept)-1 && h.kept[first+1].Mash() < h.goal-reachedWithin {
		first++
	}
	second := first * keptEvery
	if second > off {
		second = off
	}
	q := h.at(second)
	for ; second < longestHeatUp; second++ {
		if q.Mash() >= h.goal-reachedWithin {
			return time.Duration(second) * time.Second, true
		}
		if second < off {
			h.heat(q, second)
		} else {
			q.second(0, unit.On)
		}
	}
	return 0, false
}
