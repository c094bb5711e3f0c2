package tune

import (
	"math"
	"testing"
	"time"

	"mashward/controller/observer"
	"mashward/controller/unit"
)

// found is an accepted result with these figures.
func found(power unit.Watts, loss unit.WattsPerKelvin, lag time.Duration) Result {
	return Result{
		Model: observer.Model{Power: power, Loss: loss, Probe: lag, Heated: 1, Mash: 1}, Doubt: 0.005, LossSD: 0.02, LagSD: 2 * time.Second,
		Contradiction: float64(power) / 3000,
	}
}

// What is worth a word: power by more than 5 %, a loss by more than a tenth of
// full power at 50 K (6 W/K of 3 kW), a lag by more than half and 10 s; each by
// more than twice its doubt.
func TestWhatDiffersIsMoreThanItsDoubt(t *testing.T) {
	used := Used{Power: 3000, Loss: 7, Lag: 30 * time.Second}
	for _, c := range []struct {
		name string
		r    Result
		used Used
		want Differences
	}{
		{"the same", found(3000, 7, 30*time.Second), used, Differences{}},
		{"power 4.9 % less", found(2853, 7, 30*time.Second), used, Differences{}},
		{"power 5.1 % less", found(2847, 7, 30*time.Second), used, Differences{Power: true}},
		{"power 5.1 % more", found(3153, 7, 30*time.Second), used, Differences{Power: true}},
		{"loss 5.9 W/K more", found(3000, 12.9, 30*time.Second), used, Differences{}},
		{"loss 6.1 W/K more", found(3000, 13.1, 30*time.Second), used, Differences{Loss: true}},
		{"lag 14 s more", found(3000, 7, 44*time.Second), used, Differences{}},
		{"lag 16 s more", found(3000, 7, 46*time.Second), used, Differences{Lag: true}},
		{"lag 16 s less", found(3000, 7, 14*time.Second), used, Differences{Lag: true}},
		{"a short lag 9 s more", found(3000, 7, 17*time.Second), Used{3000, 7, 8 * time.Second}, Differences{}},
		{"untuned: no lag to differ from", found(3000, 7, 46*time.Second), Used{3000, 7, 0}, Differences{}},
		{"all", found(2000, 20, 90*time.Second), used, Differences{true, true, true}},
		{"nothing used", found(2000, 20, 90*time.Second), Used{}, Differences{}},
		{"nothing found", Result{}, used, Differences{}},
	} {
		if got := c.r.Differs(c.used); got != c.want {
			t.Errorf("%s: %+v, not %+v", c.name, got, c.want)
		}
	}
	unsure := found(2600, 20, 90*time.Second)
	unsure.Doubt, unsure.LossSD, unsure.LagSD = 0.07, 0.4, 31*time.Second
	if got := unsure.Differs(used); got.Any() {
		t.Errorf("within twice its doubt: %+v", got)
	}
	for reason := TooShort; reason <= Disagrees; reason++ {
		refused := found(2000, 20, 90*time.Second)
		refused.Reason = reason
		if got := refused.Differs(used); got.Any() {
			t.Errorf("refused, %v: %+v", reason, got)
		}
	}
	wild := found(unit.Watts(math.NaN()), unit.WattsPerKelvin(math.NaN()), 30*time.Second)
	if got := wild.Differs(used); got.Any() {
		t.Errorf("no number: %+v", got)
	}
}
