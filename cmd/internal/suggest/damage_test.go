package suggest_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"mashward/sim/fault"
)

// hurts are faults that may happen in a strike heat-up, with what they leave of
// power over capacity at the least and at the most: a course that was one
// kettle first and another then may be taken for any between them.
var hurts = []struct {
	fault       string
	least, most float64
}{
	{"lid-off", 1, 1},
	{"lid-off, for: 5 min", 1, 1},
	{"supply-sag", 0.81, 1},
	{"supply-sag, for: 10 min", 0.81, 1},
	{"element-half", 0.5, 1},
	{"drained, for: 1 min", 1, 2.1},
	{"pump-stopped, for: 5 min", 1, 1},
	{"pump-stopped", 1, 1},
	{"cold-water", 0.6, 1},
	{"probe-drift", 1, 1},
	{"probe-offset", 1, 1},
	{"probe-stuck, for: 2 min", 1, 1},
	{"probe-noise", 1, 1},
	{"probe-spike", 1, 1},
	{"probe-out, for: 1 min", 1, 1},
	{"probe-crc, for: 2 min", 1, 1},
	{"relay-open, for: 3 min", 1, 1},
	{"relay-welded, for: 10 min", 1, 1},
}

// Whatever goes wrong in a strike heat-up, nothing is suggested that is off by
// more than a tenth.
func TestAStrikeThatWentWrongSuggestsNothingWrong(t *testing.T) {
	t.Parallel()
	n, bad, unusable := uint64(len(hurts)), 0, 0
	if *night {
		n = 40 * uint64(len(hurts))
	}
	said := map[string]int{}
	for i := range n {
		hurt := hurts[i%uint64(len(hurts))]
		seed := firstSeed + 1000 + i
		r := rand.New(rand.NewPCG(seed, 11))
		script, wrong := fault.Parse("faults.yaml", []byte(fmt.Sprintf("faults:\n  - {at: %d s, fault: %s}\n", 30+r.IntN(1500), hurt.fault)))
		if len(wrong) > 0 {
			t.Fatal(wrong)
		}
		s, truth, err := brewed(t, seed, 1, &script)
		if err != nil || !s.Found.Accepted() {
			unusable++
			continue
		}
		if !s.Differs.Any() {
			continue
		}
		said[hurt.fault]++
		if got := s.Found.Contradiction / truth; s.Differs.Power && (got < hurt.least-0.1 || got > hurt.most+0.1) {
			bad++
			t.Errorf("kettle %d, %s: %.2f of the true power over capacity: %s", seed, hurt.fault, got, s.Text())
		}
	}
	t.Logf("%d strikes that went wrong: %d refused, suggestions %v, %d of them wrong", n, unusable, said, bad)
}
