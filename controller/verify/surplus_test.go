package verify

import (
	"testing"
	"time"

	"mashward/controller/unit"
)

// How much stronger the element is than was said is known from the heat-up of the water,
// and must not be forgotten at its end, when less is seen than the model goes on
// expecting for a while.
func TestASurplusIsKnownAfterTheHeatUpThatShowedIt(t *testing.T) {
	r := start(20)
	r.tick.Bed = false
	r.pass(900, unit.On, 1.3)
	learned := r.s.Surplus
	if learned < 0.25 || learned > 0.35 {
		t.Fatalf("the surplus is %.2f, want 0.3", learned)
	}
	if r.pass(300, unit.Off, 0); r.s.Surplus < learned-0.02 {
		t.Errorf("of a surplus of %.2f %.2f is left", learned, r.s.Surplus)
	}
}

// A probe in the bag may follow its water minutes late, which nobody has measured
// before a water test; half of the power is still said within ten minutes.
func TestABagThatFollowsLateIsNoHalfOfThePower(t *testing.T) {
	for name, one := range map[string]struct {
		real float64 // full powers
		late int     // s
		half bool
	}{"late": {1, 60, false}, "half of the power": {0.5, 0, true}, "late, half of the power": {0.5, 60, true}} {
		r := start(12)
		r.v.Params.Place, r.tick.Bed = Bed, false
		since := r.now
		for second := 0; r.now-since < 10*time.Minute && !r.s.Half; second++ {
			water := 12 + 3000*one.real/mashLoad*float64(max(0, second-one.late))
			r.read += (water - r.read) / 12
			r.step(unit.On, r.read+0.04*r.noise.NormFloat64())
		}
		if r.s.Half != one.half || r.found.Kind != Nothing {
			t.Errorf("%s: warning %v after %v, found %v; want %v", name, r.s.Half, r.now-since, r.found.Kind, one.half)
		}
	}
}
