package plan

import (
	"strings"
	"testing"
	"time"

	"mashward/profile"
)

// TestThePlanSaysWhatItCannotKeep sets each bound a hair below and above what the
// plan of the sample brew has; words "" is a bound that holds. The rest at 63 °C is
// 19 K above the mash-in of 15 min, at 1 K/min.
func TestThePlanSaysWhatItCannotKeep(t *testing.T) {
	plain, _ := Make(rye(), yard())
	there := plain.Steps[2].Reached - plain.Steps[1].Start
	within(t, "rest at 63 °C after the grain, s", there.Seconds(), (15+19)*60, 1)
	cool := func(p *profile.Profile) { p.Steps[2].Target = 60 }
	same := func(*profile.Profile) {}
	for _, c := range []struct {
		change func(*profile.Profile)
		e      profile.Expectation
		words  string
	}{
		{same, profile.Expectation{Promise: profile.ReachedWithin, Step: 2, Time: there - time.Second}, "step 2 (rest at 63 °C) is reached 34 min after mash-in"},
		{same, profile.Expectation{Promise: profile.ReachedWithin, Step: 2, Time: there + time.Second}, ""},
		{same, profile.Expectation{Promise: profile.StrikeAtMost, Temperature: plain.Strike.Temperature - 0.01}, "the strike water has to be 45.8 °C"},
		{same, profile.Expectation{Promise: profile.StrikeAtMost, Temperature: plain.Strike.Temperature + 0.01}, ""},
		{same, profile.Expectation{Promise: profile.DoneWithin, Time: plain.Finish - time.Second}, "the day takes 4 h"},
		{same, profile.Expectation{Promise: profile.DoneWithin, Time: plain.Finish + time.Second}, ""},
		{same, profile.Expectation{Promise: profile.EnergyAtMost, Energy: plain.Energy - 3600}, "kWh, and "},
		{same, profile.Expectation{Promise: profile.EnergyAtMost, Energy: plain.Energy + 3600}, ""},
		{cool, profile.Expectation{Promise: profile.NeverAbove, Step: 3, Temperature: 62.9}, "step 3 (rest at 60 °C) begins at 63.0 °C"},
		{cool, profile.Expectation{Promise: profile.NeverAbove, Step: 3, Temperature: 63.1}, ""},
		{same, profile.Expectation{Promise: profile.CountedAtLeast, Step: 2, Time: 35 * time.Minute}, ""},
	} {
		brew := rye()
		c.change(&brew)
		c.e.Line = 17 // no step stands there
		brew.Expect = []profile.Expectation{c.e}
		_, problems := Make(brew, yard())
		if Refused(problems) {
			t.Errorf("%+v forbids the day: %+v", c.e, problems)
		}
		said := []Problem{}
		for _, p := range problems {
			if p.Line == 17 {
				said = append(said, p)
			}
		}
		switch {
		case c.words == "" && len(said) > 0:
			t.Errorf("%+v holds, and it is said: %+v", c.e, said)
		case c.words == "":
		case len(said) != 1 || said[0].Step != c.e.Step || said[0].Remedy == "" ||
			!strings.Contains(said[0].What, c.words) || !strings.HasSuffix(said[0].What, " is expected at most"):
			t.Errorf("%+v: said %+v, want %q", c.e, said, c.words)
		}
	}
}
