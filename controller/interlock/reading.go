package interlock

import "math"

// How fast an honest reading can move. A cold top-up of 8 K seen through a
// quick probe (5 s) falls by 1.6 K/s, a nearly dry kettle (3 kW into 1 L)
// rises by 0.7 K/s; a grain pour falls several K in seconds to a minute
// (common practice, no source). What moves faster is another thing than wort:
// a spike, a power-on value, a probe swapped or pulled.
const (
	fastest = 2.5 // K/s
	jump    = 5.0 // K, always allowed: what 2 s allow
	// So many readings in a row settle that a jump was none of the probe's: three spikes in
	// a row are no kettle that is too hot. No heat is given meanwhile.
	agreeing = 5
)

// take judges the raw reading of this tick: it becomes Last when it is good,
// newer, in range and within reach of Last, or when enough in a row agree that
// the value has jumped. odd says that there is something implausible about the
// newest reading now.
//
// A reading from the future is not taken and, being no jump, not odd: it ages
// like a missing one. A sampler beside the loop can stamp its reading a moment
// after the tick began, and that must not cost heat.
func (g Guard) take(f Facts) (next Guard, odd bool) {
	if !f.Reading.Good() || f.Reading.Age(f.Now) < 0 {
		return g, g.Agreeing > 0
	}
	s := Sample{Value: f.Reading.Value, Taken: f.Reading.Taken}
	if !plausible(s.Value) {
		g.Agreeing = min(g.Agreeing, 1)
		return g, true
	}
	if !g.Seen {
		g.Seen, g.Last = true, s
		return g, false
	}
	newest := g.Last
	if g.Agreeing > 0 {
		newest = g.Doubt
	}
	switch {
	case s == newest: // the same measurement again
		return g, g.Agreeing > 0
	case s.Taken <= newest.Taken: // goes back in time, or contradicts itself
		return g, true
	}
	return g.weigh(s, newest)
}

// weigh takes a newer sample into Last or into Doubt.
func (g Guard) weigh(s, newest Sample) (Guard, bool) {
	if !within(s, g.Last) {
		if g.Agreeing > 0 && within(s, newest) {
			g.Agreeing++
		} else {
			g.Agreeing = 1
		}
		g.Doubt = s
		if g.Agreeing < agreeing {
			return g, true
		}
	}
	g.Last, g.Doubt, g.Agreeing = s, Sample{}, 0
	return g, false
}

// within tells whether a kettle can get from one sample to the next. The reach
// grows up to Fresh only: what comes back after a longer gap at quite another
// temperature has to be confirmed.
func within(next, before Sample) bool {
	gap := min((float64(next.Taken)-float64(before.Taken))/1e9, Fresh.Seconds())
	return math.Abs(float64(next.Value-before.Value)) <= max(jump, fastest*gap)
}
