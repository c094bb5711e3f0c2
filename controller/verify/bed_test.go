package verify

import (
	"testing"
	"time"

	"mashward/controller/unit"
)

// 1 kW heats 33 L of mash in a bed. A lid that comes off may cost it more than four
// tenths of that, so that a stopped pump, after which the wort outside the bag warms the
// bed with a quarter of the power, is told by the power that was seen before alone.
func TestInABedTheHeatUpBeforeTellsAStoppedPumpFromALid(t *testing.T) {
	for name, one := range map[string]struct {
		before float64 // share of the power that is seen
		after  float64
		kind   Kind
	}{
		"the pump stops":                  {1, 0.2, NotHeating},
		"the lid comes off":               {1, 0.56, Nothing},
		"one of two elements":             {1, 0.5, Nothing},
		"the lid is off, the pump stops":  {0.6, 0.1, NotHeating},
		"a tenth less of what was so far": {0.6, 0.5, Nothing},
	} {
		t.Run(name, func(t *testing.T) {
			r := start(63)
			r.v.Params.Place, r.v.Params.Power, r.v.Params.Loss, r.v.Params.Surface = Bed, 1000, 0, 0.24
			r.tick.Load = 1.4e5
			rise := func(seconds int, share float64) {
				for range seconds {
					r.read += share * 1000 / 1.4e5
					r.step(unit.On, r.read)
				}
			}
			if open := r.v.Params.openLoss(63) / 1000; open < 0.3 {
				t.Fatalf("a lid costs %.2f of the power: this shows nothing", open)
			}
			r.repeat(63, 600)
			rise(600, one.before)
			if r.found.Kind != Nothing {
				t.Fatalf("%v after %v, before anything happened", r.found.Kind, r.at)
			}
			since := r.now
			rise(240, one.after)
			r.want(t, one.kind, 3*time.Minute, since)
		})
	}
}
