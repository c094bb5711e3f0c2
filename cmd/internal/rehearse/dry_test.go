package rehearse

import (
	"slices"
	"testing"
	"time"

	"mashward/sim/fault"
)

// TestADryElementCoveredAgainShows: what an element has stored while it was dry comes
// out when it is covered again, and shows if heat happens to be off then. At one instant
// of a rest that is luck, so it is counted over 21 of them; a rest of 35 min asks for
// little heat, so that many show nothing.
func TestADryElementCoveredAgainShows(t *testing.T) {
	for _, c := range []struct {
		lasting time.Duration
		least   int
	}{{5 * time.Minute, 5}, {8 * time.Minute, 12}} {
		shows := 0
		for after := time.Minute; after <= 21*time.Minute; after += time.Minute {
			at := at63
			at.After = after
			if slices.Contains(tripIDs(runSample(t, fault.Script{struck(fault.ElementDry, at, c.lasting)})), "heating-while-off") {
				shows++
			}
		}
		if shows < c.least {
			t.Errorf("dry for %v it shows at %d of 21 instants; want %d", c.lasting, shows, c.least)
		}
	}
}
