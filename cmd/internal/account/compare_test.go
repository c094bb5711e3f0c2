package account

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"mashward/profile"
)

func TestARecordAndItselfDifferInNothing(t *testing.T) {
	b := healthy()
	c := Compare(&b.Account, &b.Account)
	if len(c.Changed) != 0 {
		t.Errorf("%+v", c.Changed)
	}
	for _, s := range c.Steps {
		if s.A == nil || s.B == nil {
			t.Errorf("%s has no partner", s.Title)
		}
		for _, f := range s.Figures {
			if f.Difference != nil && *f.Difference != 0 {
				t.Errorf("%s: %s differs by %g", s.Title, f.Name, *f.Difference)
			}
		}
	}
}

// An addition is told with its moment, whatever that is counted by.
func TestWhenAnAdditionGoesInIsCompared(t *testing.T) {
	at := func(a profile.Addition) *Day {
		a.Add = "salts"
		return &Day{HasProfile: true, Profile: profile.Profile{Steps: []profile.Step{{Kind: profile.MashIn, Target: 64, Additions: []profile.Addition{a}}}}}
	}
	var d difference
	d.profile(at(profile.Addition{When: profile.AtStrike}), at(profile.Addition{When: profile.ByClock, At: 5 * time.Minute}))
	d.profile(at(profile.Addition{Left: 10 * time.Minute}), at(profile.Addition{When: profile.AtOnce}))
	want := []Change{
		{"", "step 1, mash-in: additions", "salts into the strike water", "salts after 5 min"},
		{"", "step 1, mash-in: additions", "salts with 10 min left", "salts"},
	}
	if !slices.Equal(d.all, want) {
		t.Errorf("%+v", d.all)
	}
}

// What was turned on purpose is what is told, and nothing else.
func TestWhatWasChangedIsWhatIsTold(t *testing.T) {
	s, a := rye(t), healthy()
	for was, is := range map[string]string{
		"water: 26 L": "water: 26.5 L", "rest: 71 °C, for: 25 min": "rest: 70 °C, for: 20 min", "28 g bittering": "30 g bittering",
		"  - {mash-out: 77 °C, for: 10 min}                ": "", "  - {mash-out": "  - {rest: 74 °C, for: 5 min}\n  - {mash-out",
	} {
		s.profile = strings.Replace(s.profile, was, is, 1)
	}
	for was, is := range map[string]string{"room: 18 °C": "room: 11 °C", "tap: 12 °C": "tap: 8 °C", "power: 3000 W": "power: 2800 W", "loss: 7 W/K": "loss: 7.5 W/K"} {
		s.rig = strings.Replace(s.rig, was, is, 1)
	}
	s.delay, s.faults = 2*time.Minute, "  - {at: 60 min, fault: probe-open, for: 20 s}\n"
	b := brew(t, s)
	c := Compare(&a.Account, &b.Account)
	told := map[string]string{}
	for _, d := range c.Changed {
		told[d.Subject+": "+d.What] = d.A + " -> " + d.B
	}
	for what, want := range map[string]string{
		"profile: water":                       "26 L -> 26.5 L",
		"profile: step 3, rest: temperature":   "71 °C -> 70 °C",
		"profile: step 3, rest: for":           "25 min -> 20 min",
		"profile: step 4 of B":                 " -> rest 74.0 °C",
		"profile: step 6, boil: additions":     "28 g bittering hops with 1 h left; finings with 10 min left -> 30 g bittering hops with 1 h left; finings with 10 min left",
		"kettle: power counted with":           "3000 W -> 2800 W",
		"kettle: loss counted with":            "7 W/K -> 7.5 W/K",
		"surroundings: room, as declared":      "18 °C -> 11 °C",
		"surroundings: tap water, as declared": "12 °C -> 8 °C",
	} {
		if told[what] != want {
			t.Errorf("%s: %q, want %q", what, told[what], want)
		}
		delete(told, what)
	}
	for what := range told {
		subject, _, _ := strings.Cut(what, ":")
		if subject != "person" && subject != "heat" && what != "surroundings: water as filled, first reading" {
			t.Errorf("nobody changed %s: %s", what, told[what])
		}
	}
	for _, want := range []string{"person: waited for pour", "person: waited for drained", "heat: cut: stale"} {
		if told[want] == "" {
			t.Errorf("%s is not told: %q", want, told)
		}
	}
	only := c.Steps[4]
	if only.A != nil || only.B == nil || only.B.Index != 4 {
		t.Errorf("the step that came in: %+v", only)
	}
	for _, f := range only.Figures {
		if f.A != nil || f.Difference != nil {
			t.Errorf("%s of a step that is not there: %+v", f.Name, f)
		}
	}
}

func TestStepsAreAlignedByKindAndTarget(t *testing.T) {
	step := func(kind string, target float64) Step { return Step{Kind: kind, Target: figure(target)} }
	one := []Step{step("mash-in", 50), step("rest", 63), step("rest", 72), step("mash-out", 78)}
	for name, c := range map[string]struct {
		b    []Step
		want string
	}{
		"the same":           {one, "mash-in 50/mash-in 50 rest 63/rest 63 rest 72/rest 72 mash-out 78/mash-out 78"},
		"one more":           {[]Step{one[0], step("rest", 55), one[1], one[2], one[3]}, "mash-in 50/mash-in 50 -/rest 55 rest 63/rest 63 rest 72/rest 72 mash-out 78/mash-out 78"},
		"one less":           {[]Step{one[0], step("rest", 71), one[3]}, "mash-in 50/mash-in 50 rest 63/- rest 72/rest 71 mash-out 78/mash-out 78"},
		"another altogether": {[]Step{step("boil", 100)}, "mash-in 50/- rest 63/- rest 72/- mash-out 78/- -/boil 100"},
		"nothing":            {nil, "mash-in 50/- rest 63/- rest 72/- mash-out 78/-"},
	} {
		var got []string
		words := func(s *Step) string {
			if s == nil {
				return "-"
			}
			return fmt.Sprintf("%s %g", s.Kind, *s.Target)
		}
		for _, p := range align(one, c.b) {
			got = append(got, words(p[0])+"/"+words(p[1]))
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%s:\n%s\nwant\n%s", name, strings.Join(got, " "), c.want)
		}
	}
}

// Two kettles: what is compared across them does not depend on their size.
func TestAcrossKettlesFiguresAreByLoad(t *testing.T) {
	yard := healthy()
	small := brew(t, setting{profile: fileOf(t, "profiles/small-batch.yaml"), rig: fileOf(t, "rigs/small-pot.yaml")})
	c := Compare(&yard.Account, &small.Account)
	named := map[string]Figure{}
	for _, f := range c.Figures {
		named[f.Name] = f
	}
	for _, name := range []string{"water_to_grain_litres_per_kilogram", "watts_per_litre", "strike_kelvin_per_minute", "evaporation_ratio_per_hour"} {
		if f := named[name]; f.A == nil || f.B == nil || f.Difference == nil || *f.B <= 0 {
			t.Errorf("%s: %+v", name, f)
		}
	}
	// Power over load: what is lost on the way to 50 °C is a few per cent of it.
	for name, b := range map[string]brewed{"yard": yard, "small": small} {
		capacity := float64(b.Day.Head.Config.LoadWater)
		bound := b.Kettle.Power / capacity * 60
		if rate := *b.Across.Strike; rate > bound || rate < 0.85*bound {
			t.Errorf("%s: strike water heats %.3f K/min, and power over load is %.3f", name, rate, bound)
		}
	}
}

func TestTheTextFitsATerminalAndTheJSONHasNoGoNames(t *testing.T) {
	s, a := rye(t), healthy()
	s.profile = strings.Replace(s.profile, "rest: 71 °C", "rest: 70 °C", 1)
	b := brew(t, s)
	c := Compare(&a.Account, &b.Account)
	var text strings.Builder
	if err := c.Text(&text); err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Split(text.String(), "\n") {
		if n := len([]rune(line)); n > 80 {
			t.Errorf("%d characters: %s", n, line)
		}
	}
	for _, want := range []string{"What differs", "71 °C", "70 °C", "rest 71.0 °C / rest 70.0 °C", "B - A", "kWh"} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("the text lacks %q", want)
		}
	}
	for name, v := range map[string]any{"comparison": c, "account": a.Account} {
		encoded, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		var tree any
		if err := json.Unmarshal(encoded, &tree); err != nil {
			t.Fatal(err)
		}
		snake(t, name, tree)
	}
}

// snake refuses keys with capitals.
func snake(t *testing.T, where string, v any) {
	switch v := v.(type) {
	case map[string]any:
		for key, inner := range v {
			if strings.ToLower(key) != key {
				t.Errorf("%s: key %q", where, key)
			}
			snake(t, where+"."+key, inner)
		}
	case []any:
		for _, inner := range v {
			snake(t, where, inner)
		}
	}
}
