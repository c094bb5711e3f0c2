package verify

import (
	"testing"

	"mashward/controller/unit"
)

// spikes are readings that lie 20 K beside: alone, in pairs, three in a row, and with
// one that is right among them, as a plug with water in it gives.
var spikes = []string{"s", "ss", "sss", "ss.s", "s.ss", "s.s.s", "ss..ss", "sss.s"}

// spiked passes ten minutes in which such spikes come every 200 s, and hears what is
// found.
func (r *rig) spiked(pattern string, by float64, heats bool, hear func(Kind)) {
	for i := range 600 {
		on := unit.RelayOf(i%10 == 0 || heats)
		if at := i % 200; at < len(pattern) && pattern[at] == 's' {
			r.spike = by
		}
		r.pass(1, on, float64(on))
		r.spike = 0
		hear(r.s.standing().Kind)
	}
}

// Spikes are no heat that nobody switched on, no element that fails, and no probe on
// the element, in a rest and in a heat-up. Some that point down look like a probe in
// the air: that is a cut, and as soon over.
func TestSpikesAreNoHeat(t *testing.T) {
	for _, pattern := range spikes {
		for _, by := range []float64{20, -20} {
			for _, heats := range []bool{false, true} {
				out := 0
				start(50).hold(600).spiked(pattern, by, heats, func(k Kind) {
					switch {
					case k == ProbeOut && by < 0:
						out++
					case k != Nothing:
						t.Fatalf("%s of %+.0f K, heat-up %v: found %v", pattern, by, heats, k)
					}
				})
				if out > 3*20 {
					t.Errorf("%s of %+.0f K, heat-up %v: the probe was out for %d s in ten minutes", pattern, by, heats, out)
				}
			}
		}
	}
}
