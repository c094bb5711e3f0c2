// Package estimate makes of raw readings what the control law may act on: a
// filtered temperature, its rate, and how old the last good reading is.
//
// It refuses what cannot be: a value outside the range of a kettle, a value
// from the future, the power-on value of a digital probe (85.0 °C) unless the
// kettle really is there. What it refuses is counted, never shown. A reading
// that is missing is not held: it is projected to the worst it could be.
package estimate

import (
	"math"
	"time"

	"mashward/controller/unit"
	"mashward/sensors"
)

// Figures of the filter. Two first-order filters in a row of 4 s each take
// 0.05 K of probe noise to about 0.012 K and cost 8 s of delay.
const (
	Lowest  unit.Celsius = -5
	Highest unit.Celsius = 110
	Lag                  = 4 * time.Second
	// PowerOnValue is what a DS18B20 answers before its first conversion
	// (datasheet); it is believed only within PowerOnBand of the estimate.
	PowerOnValue unit.Celsius = 85
	PowerOnBand  unit.Kelvin  = 2
	// MaxAge is the age beyond which a reading permits nothing. What comes
	// after a longer silence is believed as it is, not filtered into the past.
	MaxAge = 5 * time.Second
	// Forget is the silence after which rate and fall begin anew.
	Forget = time.Minute
	// gapAfter is the longest tick: the ring cannot tell what happened in a
	// longer one.
	gapAfter = 3 * time.Second
)

// slots is the length of the ring of means from which the rate is taken; one
// slot is slotTime long.
const (
	slots    = 64
	slotTime = 5 * time.Second
)

// State is the filter's memory. The zero value knows nothing.
type State struct {
	Known    bool
	Last     sensors.Reading // last accepted
	Recent   [3]unit.Celsius // last accepted raw values, for the median
	Count    uint8
	First    unit.Celsius // after the first filter
	Filtered unit.Celsius // after the second
	Ring     [slots]float32
	Head     uint8
	Filled   uint8
	SlotSum  float64
	SlotN    int32
	InSlot   time.Duration
	Rejected uint32
}

// Estimate is what the law sees.
type Estimate struct {
	Valid    bool                 // a good reading at most MaxAge old stands behind it
	Value    unit.Celsius         // filtered
	Worst    unit.Celsius         // Value, or what it may have become since the last good reading
	Slope    unit.KelvinPerSecond // over the last minute
	HasSlope bool
	Fresh    bool // this tick brought a new accepted reading
	Age      time.Duration
}

// Step takes the newest reading. rise is the fastest the kettle can heat, used
// to project a missing reading upwards while heat may be on.
func Step(s State, r sensors.Reading, now, dt time.Duration, rise unit.KelvinPerSecond) (State, Estimate) {
	if s.Known && s.Last.Taken > now {
		s = State{Rejected: s.Rejected} // the run clock began anew
	}
	if dt > gapAfter {
		s = s.Restart()
	}
	fresh := r.Good() && (!s.Known || r.Taken != s.Last.Taken)
	if fresh && !plausible(s, r, now) {
		s.Rejected++
		fresh = false
	}
	if fresh {
		s = s.accept(r)
	}
	if s.Known {
		s = s.slot(dt)
	}
	return s, s.estimate(now, fresh, rise)
}

// plausible tells whether a good reading can be true.
func plausible(s State, r sensors.Reading, now time.Duration) bool {
	v := float64(r.Value)
	if math.IsNaN(v) || r.Value < Lowest || r.Value > Highest || r.Age(now) < 0 {
		return false
	}
	if s.Known && r.Taken < s.Last.Taken {
		return false // overtaken by a newer one
	}
	if r.Value == PowerOnValue && s.Known {
		return math.Abs(float64(s.Filtered-PowerOnValue)) <= float64(PowerOnBand)
	}
	return r.Value != PowerOnValue
}

// accept filters one good reading: median of three against spikes, then two
// first-order filters. The first reading, and the first after a silence, starts
// all of them.
func (s State) accept(r sensors.Reading) State {
	step := r.Taken - s.Last.Taken
	if !s.Known || step > MaxAge {
		if step > Forget {
			s = s.Restart()
		}
		s.Known, s.Last = true, r
		s.Recent = [3]unit.Celsius{r.Value, r.Value, r.Value}
		s.First, s.Filtered = r.Value, r.Value
		return s
	}
	s.Recent[s.Count%3] = r.Value
	s.Count = (s.Count + 1) % 3
	a := 1 - math.Exp(-step.Seconds()/Lag.Seconds())
	s.First += unit.Celsius(a) * (median(s.Recent) - s.First)
	s.Filtered += unit.Celsius(a) * (s.First - s.Filtered)
	s.Last = r
	return s
}

// slot adds this tick to the ring of means. What a slot runs over its time goes
// to the next, so that ticks a little short of a second do not stretch it.
func (s State) slot(dt time.Duration) State {
	s.SlotSum += float64(s.Filtered)
	s.SlotN++
	s.InSlot += dt
	if s.InSlot >= slotTime {
		s.Ring[s.Head] = float32(s.SlotSum / float64(s.SlotN))
		s.Head = (s.Head + 1) % slots
		s.Filled = min(s.Filled+1, slots)
		s.SlotSum, s.SlotN, s.InSlot = 0, 0, s.InSlot-slotTime
	}
	return s
}

// estimate reads the filter.
func (s State) estimate(now time.Duration, fresh bool, rise unit.KelvinPerSecond) Estimate {
	if !s.Known {
		return Estimate{}
	}
	e := Estimate{Value: s.Filtered, Worst: s.Filtered, Age: s.Last.Age(now), Fresh: fresh}
	e.Valid = e.Age >= 0 && e.Age <= MaxAge
	if e.Age > 0 {
		e.Worst += unit.Celsius(float64(rise) * e.Age.Seconds())
	}
	e.Slope, e.HasSlope = s.SlopeOver(time.Minute)
	return e
}

// SlopeOver is the rate over the last span (10 s to 5 min): the difference of
// the means of its newer and older half, each noise-averaged.
func (s State) SlopeOver(span time.Duration) (unit.KelvinPerSecond, bool) {
	half := int(span / (2 * slotTime))
	if half < 1 || 2*half > int(s.Filled) {
		return 0, false
	}
	newer, older := s.mean(0, half), s.mean(half, half)
	return unit.KelvinPerSecond((newer - older) / (float64(half) * slotTime.Seconds())), true
}

// Fall is how far the value now stands below the highest mean of the last span;
// 0 when it has risen. It is the value after the first filter only: a fall is
// wanted early.
func (s State) Fall(span time.Duration) unit.Kelvin {
	high := float64(s.First)
	for i := range min(int(span/slotTime), int(s.Filled)) {
		high = max(high, s.back(i))
	}
	return unit.Kelvin(high - float64(s.First))
}

// Spread is the highest less the lowest slot mean over the last span, and
// whether the ring reaches back that far.
func (s State) Spread(span time.Duration) (unit.Kelvin, bool) {
	n := int(span / slotTime)
	if n > int(s.Filled) {
		return 0, false
	}
	low, high := float64(s.Filtered), float64(s.Filtered)
	for i := range n {
		low, high = min(low, s.back(i)), max(high, s.back(i))
	}
	return unit.Kelvin(high - low), true
}

// Restart forgets the rate but keeps the temperature: after an event that
// moves the reading at once (grain, a top-up) the old rate means nothing.
func (s State) Restart() State {
	s.Filled, s.Head, s.SlotSum, s.SlotN, s.InSlot = 0, 0, 0, 0, 0
	return s
}

func (s State) back(i int) float64 { return float64(s.Ring[(int(s.Head)-1-i+2*slots)%slots]) }

func (s State) mean(from, n int) float64 {
	sum := 0.0
	for i := range n {
		sum += s.back(from + i)
	}
	return sum / float64(n)
}

// Median is the median of the last three accepted readings: no filter but for
// single wild ones.
func (s State) Median() unit.Celsius { return median(s.Recent) }

func median(v [3]unit.Celsius) unit.Celsius {
	return max(min(v[0], v[1]), min(max(v[0], v[1]), v[2]))
}
