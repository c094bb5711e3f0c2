package gravity

import (
	"errors"
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
