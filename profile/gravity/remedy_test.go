package gravity

import (
	"errors"
	"math"
	"testing"
	"time"

	"mashward/controller/unit"
)

// By hand: 22.3 L of 1.044 boiled for 75 min at 2.4 L/h are 19.3 L of
// 1 + 22.3 x 0.044/19.3 = 1.05084.
func TestABoilIsLearnedFromTwoReadings(t *testing.T) {
	e, err := Seen(Wort{22.3, 1.044}, Wort{19.3, 1.05084}, 75*time.Minute)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "by volume, L/h", float64(e.ByVolume)*3600, 2.4, 1e-9)
	near(t, "by gravity, L/h", float64(e.ByGravity)*3600, 2.4, 0.005)
	// A second volume read a litre too high shows in one way only.
	e, err = Seen(Wort{22.3, 1.044}, Wort{20.3, 1.05084}, 75*time.Minute)
	if err != nil || e.ByGravity-e.ByVolume < unit.LitresPerSecond(0.7/3600) {
		t.Errorf("%+v, %v", e, err)
	}
	for what, c := range map[string]struct {
		before, after Wort
		took          time.Duration
	}{
		"too short": {Wort{22, 1.044}, Wort{21.9, 1.0442}, 5 * time.Minute},
		"more":      {Wort{22, 1.044}, Wort{23, 1.046}, time.Hour},
		"thinner":   {Wort{22, 1.044}, Wort{20, 1.042}, time.Hour},
		"water":     {Wort{22, 1}, Wort{20, 1}, time.Hour},
	} {
		e, err := Seen(c.before, c.after, c.took)
		var refusal *Refusal
		if !errors.As(err, &refusal) || e != (Evaporation{}) {
			t.Errorf("%s: %+v, %v", what, e, err)
		}
	}
}

// Half a litre of water at 2.4 L/h is 12.5 min of boil, and both end in the same wort.
func TestAShorterBoilDoesWhatWaterDoes(t *testing.T) {
	rate := unit.LitresPerSecond(2.4 / 3600)
	end := Wort{Volume: 20, Gravity: 1.05125} // 1025 points are 20.5 L of 1.050
	m, err := Meet(end, 1.05, rate)
	if err != nil {
		t.Fatal(err)
	}
	less, ok := m.Shorter(rate, time.Hour)
	if !ok || less != 750*time.Second {
		t.Fatalf("%v, %v", less, ok)
	}
	after, err := end.With(unit.Litres(float64(rate) * less.Seconds()))
	if err != nil || math.Abs(float64(after.Gravity-1.05)) > 0.00001 {
		t.Errorf("%v, %v", after, err)
	}
	for name, c := range map[string]struct {
		remedy Remedy
		rate   unit.LitresPerSecond
		left   time.Duration
	}{
		"not so much is left": {m, rate, 12 * time.Minute}, "nothing boils": {m, 0, time.Hour}, "no number": {m, unit.LitresPerSecond(math.NaN()), time.Hour},
		"it is there": {Remedy{}, rate, time.Hour}, "it has to boil longer": {Remedy{Boil: time.Hour}, rate, time.Hour},
	} {
		if _, ok := c.remedy.Shorter(c.rate, c.left); ok {
			t.Error(name)
		}
	}
}
