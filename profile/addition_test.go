package profile

import (
	"strings"
	"testing"
	"time"

	"mashward/profile/strict"
)

// strewn has something thrown in at every kind of moment.
const strewn = `profile: Everywhere
water: 26 L
grain: {mass: 4.6 kg, temperature: 18 °C}
steps:
  - mash-in: 44 °C
    for: 15 min
    additions:
      - {at: 0 min, add: 3 mL lactic acid}
      - {at: strike, add: 4 g gypsum}
  - rest: 63 °C
    for: 35 min
    additions:
      - {left: 10 min, add: dark malt}
  - lift:
    additions:
      - {add: 10 g first hops}
  - boil: 75 min
    additions:
      - {left: 60 min, add: 28 g hops}
      - {at: flame-out, add: 20 g hops}
  - {stand: 80 °C, for: 15 min, additions: [{at: 5 min, add: 30 g hops}]}
  - {chill: 18 °C, additions: [{add: yeast}]}
`

func TestAdditionsMayStandAtEveryStep(t *testing.T) {
	p, faults := Parse("f", []byte(strewn))
	if strict.Refused(faults) {
		t.Fatal(faults)
	}
	all, steps := p.Order()
	want := []struct {
		add  string
		step int
		when When
		at   time.Duration
	}{
		{"4 g gypsum", 0, AtStrike, 0},
		{"3 mL lactic acid", 1, ByClock, 0},
		{"dark malt", 2, ByLeft, 10 * time.Minute},
		{"10 g first hops", 3, AtOnce, 0},
		{"28 g hops", 4, ByLeft, time.Hour},
		{"20 g hops", 4, ByLeft, 0},
		{"30 g hops", 5, ByClock, 5 * time.Minute},
		{"yeast", 6, AtOnce, 0},
	}
	if len(all) != len(want) {
		t.Fatalf("%d additions, want %d", len(all), len(want))
	}
	for i, w := range want {
		if a := all[i]; a.Add != w.add || steps[i] != w.step || a.When != w.when || a.Left+a.At != w.at {
			t.Errorf("%d: %+v of step %d, want %+v", i, a, steps[i], w)
		}
	}
}

func TestAMomentThatAStepDoesNotHaveIsRefused(t *testing.T) {
	for name, one := range map[string]struct{ from, to, want string }{
		"strike outside the mash-in": {"{left: 10 min, add: dark malt}", "{at: strike, add: dark malt}", "at: \"strike\""},
		"flame-out in a rest":        {"{left: 10 min, add: dark malt}", "{at: flame-out, add: dark malt}", "at: \"flame-out\""},
		"beyond the rest":            {"{left: 10 min, add: dark malt}", "{at: 36 min, add: dark malt}", "at: 36 min is more than the rest of 35 min has; write at most 35 min, or lengthen the rest"},
		"left and at":                {"{left: 10 min, add: dark malt}", "{left: 10 min, at: 5 min, add: dark malt}", "at: left and at in one addition; keep one of them"},
		"neither":                    {"{left: 10 min, add: dark malt}", "{add: dark malt}", "left is missing; write left: 60 min"},
		"a clock for the lift":       {"{add: 10 g first hops}", "{left: 5 min, add: 10 g first hops}", "unknown key \"left\"; known here: add"},
		"a value for the lift":       {"lift:", "lift: yes", "lift: it takes no value; write - lift"},
	} {
		text := strings.Replace(strewn, one.from, one.to, 1)
		if text == strewn {
			t.Fatal(name)
		}
		_, faults := Parse("f", []byte(text))
		said := ""
		for _, f := range faults {
			said += f.String() + "\n"
		}
		if !strict.Refused(faults) || !strings.Contains(said, one.want) {
			t.Errorf("%s: %swant %q", name, said, one.want)
		}
	}
}
