package profile

import (
	"os"
	"reflect"
	"strings"
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/profile/strict"
)

func sample(t testing.TB, name string) []byte {
	t.Helper()
	text, err := os.ReadFile("../testdata/profiles/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// TestTheSampleMeansWhatItSays reads the sample brew and compares every figure.
func TestTheSampleMeansWhatItSays(t *testing.T) {
	got, faults := Parse("rye.yaml", sample(t, "rye-four-rests.yaml"))
	if len(faults) > 0 {
		t.Fatal(faults)
	}
	want := Profile{
		File:  "rye.yaml",
		Line:  3,
		Name:  "Rye, four rests",
		Water: 26,
		Grain: Grain{Mass: 4.6, Temperature: 18, Moisture: 0.04, Extract: 0.8, Conversion: 0.92},
		Trub:  0.05,
		Steps: []Step{
			{Kind: MashIn, Target: 44, For: 15 * time.Minute, Floor: 1, Line: 6},
			{Kind: Rest, Target: 63, For: 35 * time.Minute, Ramp: 1.0 / 60, Floor: 1, Line: 7},
			{Kind: Rest, Target: 71, For: 25 * time.Minute, Floor: 1, Line: 8},
			{Kind: MashOut, Target: 77, For: 10 * time.Minute, Floor: 1, Line: 9},
			{Kind: Lift, Line: 10},
			{Kind: Boil, For: 75 * time.Minute, BoilOff: 2.4 * (1.0 / 3600), Line: 11, Additions: []Addition{
				{Left: time.Hour, Add: "28 g bittering hops", Line: 14},
				{Left: 10 * time.Minute, Add: "finings", Line: 15},
			}},
			{Kind: Chill, Target: 18, Line: 16},
		},
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got\n%+v\nwant\n%+v", got, want)
	}
}

// TestWhatTheMaltGivesCanBeSaid reads the keys that a profile may leave out.
func TestWhatTheMaltGivesCanBeSaid(t *testing.T) {
	text := strings.Replace(string(day(mashIn)), "18 °C}", "18 °C, extract: 76 %, conversion: 88 %}\ntrub: 0 %", 1)
	p, faults := Parse("f", []byte(text))
	if len(faults) > 0 || p.Grain.Extract != 0.76 || p.Grain.Conversion != 0.88 || p.Trub != 0 {
		t.Errorf("%+v, %v", p, faults)
	}
}

// TestEverySampleProfileIsAccepted reads the others, in other units and
// without grain.
func TestEverySampleProfileIsAccepted(t *testing.T) {
	for name, steps := range map[string]int{"congress-45-70.yaml": 2, "one-rest.yaml": 6, "water-only.yaml": 2} {
		p, faults := Parse(name, sample(t, name))
		if len(faults) > 0 || len(p.Steps) != steps {
			t.Errorf("%s: %d steps, %v", name, len(p.Steps), faults)
		}
	}
}

// day is a profile with the given steps, one a line from line 4 on.
func day(steps ...string) []byte {
	return []byte("profile: Test\nwater: 26 L\ngrain: {mass: 4.6 kg, temperature: 18 °C}\nsteps:\n  - " + strings.Join(steps, "\n  - ") + "\n")
}

const mashIn = "{mash-in: 44 °C, for: 15 min}"

// TestStepsMustMakeADay has one line for each way in which good entries make a
// bad day.
func TestStepsMustMakeADay(t *testing.T) {
	for want, text := range map[string][]byte{
		"f:6: mash-in stands after rest; move it up, before the rest":                                                                                                    day("{rest: 63 °C, for: 35 min}", mashIn),
		"f:6: there is a mash-in in line 5 already; keep one of them":                                                                                                    day(mashIn, mashIn),
		"f:7: rest stands after lift; move it up, before the lift":                                                                                                       day(mashIn, "lift", "{rest: 63 °C, for: 35 min}"),
		"f:7: lift stands after boil; move it up, before the boil":                                                                                                       day(mashIn, "boil: 1 h", "lift"),
		"f:6: a boil with the grain still in the kettle; write - lift before it":                                                                                         day(mashIn, "boil: 1 h"),
		"f:5: the profile has grain and no mash-in; begin the steps with - {mash-in: 44 °C, for: 15 min}":                                                                day("{rest: 63 °C, for: 35 min}"),
		"f:4: steps: the list is empty; write at least one entry":                                                                                                        []byte("profile: T\nwater: 9 L\n\nsteps: []\n"),
		"f:4: mash-in, and the profile has no grain; write grain: {mass: 4.6 kg, temperature: 18 °C}, or take the step out":                                              []byte("profile: T\nwater: 9 L\nsteps:\n  - {mash-in: 44 °C, for: 15 min}\n"),
		"f:6: warning: rest: 40 °C is below the 44 °C before it; stir in cold water (about 4.5 L at 15 °C), or wait until it has cooled":                                 day(mashIn, "{rest: 40 °C, for: 35 min}"),
		"f:7: the boil takes 26 L away, and the water is 26 L; write a lower boil_off or a shorter boil":                                                                 day(mashIn, "lift", "{boil: 2 h, boil_off: 13 L/h}"),
		"f:3: 6 L of water is too little for 4.6 kg of grain; write at least 6.9 L of water, or less grain":                                                              []byte(strings.Replace(string(day(mashIn)), "26 L", "6 L", 1)),
		"f:6: \"lfit\" is no step; write - lift":                                                                                                                         day(mashIn, "lfit"),
		"f:6: \"brew\" is no step; write one of mash-in, rest, mash-out, lift, boil, stand, chill":                                                                       day(mashIn, "brew"),
		"f:6: rest needs a value; write - {rest: 63 °C, for: 35 min}":                                                                                                    day(mashIn, "rest"),
		"f:6: lift: it takes no value; write - lift":                                                                                                                     day(mashIn, "{lift: yes}"),
		"f:6: boil: rest and boil stand in one entry; give each a line of its own, after a dash":                                                                         day(mashIn, "{rest: 63 °C, boil: 1 h}"),
		"f:6: this entry does not say what step it is; begin with one of mash-in, rest, mash-out, boil, stand, chill":                                                    day(mashIn, "{for: 10 min}"),
		"f:6: unknown key \"reast\"; write rest":                                                                                                                         day(mashIn, "{reast: 63 °C, for: 10 min}"),
		"f:7: for: a boil has no such key; write its length behind the word, as in boil: 75 min":                                                                         day(mashIn, "lift", "{boil: 75 min, for: 75 min}"),
		"f:6: rest: 81 °C is outside 0 °C to 80 °C; write a value within":                                                                                                day(mashIn, "{rest: 81 °C, for: 35 min}"),
		"f:7: left: 1 h 30 min is more than the boil of 1 h 15 min has; write at most 1 h 15 min, or lengthen the boil; what goes in as it heats up belongs to the lift": day(mashIn, "lift", "{boil: 75 min, additions: [{left: 90 min, add: hops}]}"),
	} {
		p, faults := Parse("f", text)
		if len(faults) != 1 || faults[0].String() != want {
			t.Errorf("got %v\nwant %s", faults, want)
			continue
		}
		if refused := !faults[0].Warning; refused && !reflect.DeepEqual(p, Profile{}) {
			t.Errorf("%s: a refused profile still asks for %+v", want, p)
		}
	}
}

// TestADayHasAtMost32StepsAndAdditions counts one above and one at the bound.
func TestADayHasAtMost32StepsAndAdditions(t *testing.T) {
	rests := func(n int) []byte {
		steps := []string{mashIn}
		for len(steps) < n {
			steps = append(steps, "{rest: 63 °C, for: 1 min}")
		}
		return day(steps...)
	}
	hops := func(n int) []byte {
		return day(mashIn, "lift", "{boil: 1 h, additions: ["+strings.Repeat("{left: 1 min, add: hops},", n)+"]}")
	}
	for _, text := range [][]byte{rests(32), hops(32)} {
		if _, faults := Parse("f", text); len(faults) > 0 {
			t.Error(faults)
		}
	}
	for want, text := range map[string][]byte{
		"f:37: this is step 33 of a profile that may have 32; join steps, or make two profiles of it": rests(40),
		"f:7: this is addition 33 of a profile that may have 32; join what goes in at the same time":  hops(40),
	} {
		if _, faults := Parse("f", text); len(faults) != 1 || faults[0].String() != want {
			t.Errorf("got %v\nwant %s", faults, want)
		}
	}
}

// FuzzParse holds whatever parses to the limits that others rely on.
func FuzzParse(f *testing.F) {
	for _, name := range []string{"rye-four-rests.yaml", "congress-45-70.yaml", "one-rest.yaml", "water-only.yaml"} {
		f.Add(sample(f, name))
	}
	f.Add(day(mashIn, "{rest: 40 °C, for: 35 min}"))
	f.Add(expecting("{step: 2, never_above: 64 °C}", "{step: 2, reached_within: 40 min}", "{step: 2, counted_at_least: 35 min}", "{strike_at_most: 72 °C}", "{done_within: 5h30}", "{energy_at_most: 9 kWh}"))
	f.Fuzz(func(t *testing.T, text []byte) {
		p, faults := Parse("f", text)
		if strict.Refused(faults) {
			if !reflect.DeepEqual(p, Profile{}) {
				t.Fatalf("a refused profile still asks for %+v", p)
			}
			return
		}
		additions := 0
		for _, s := range p.Steps {
			additions += len(s.Additions)
			if s.Kind == Strike || s.Target < 0 || s.Target > hottest || s.For < 0 || s.For > longestStep || s.Line < 1 {
				t.Fatalf("step %+v got through", s)
			}
			if timed := s.Kind != Lift && s.Kind != Chill; timed && s.For == 0 {
				t.Fatalf("step %+v has no length", s)
			}
		}
		for _, e := range p.Expect {
			if e.Bound() == "" || e.Step < 0 || e.Step > len(p.Steps) || e.Promise.OfStep() != (e.Step > 0) || e.Line < 1 || len(p.Expect) > MaxExpectations {
				t.Fatalf("expectation %+v got through", e)
			}
		}
		if n := len(p.Steps); n < 1 || n > MaxSteps || additions > MaxAdditions {
			t.Fatalf("%d steps, %d additions got through", n, additions)
		}
		if !(p.Water >= leastWater && p.Water <= mostWater) || p.Grain.Mass < 0 || p.Grain.Mass > unit.Kilograms(100) {
			t.Fatalf("%v of water, %v of grain got through", p.Water, p.Grain.Mass)
		}
	})
}
