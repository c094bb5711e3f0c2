package plan

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"mashward/controller/unit"
	"mashward/profile"
)

func sheetOf(t *testing.T, p Plan, h Heading) string {
	t.Helper()
	var b bytes.Buffer
	if err := Sheet(&b, p, h); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestTheSampleFitsOnOnePage(t *testing.T) {
	p, _ := Make(rye(), yard())
	for _, h := range []Heading{{Rig: "Yard kettle"}, {Rig: "Yard kettle", Start: 23 * time.Hour, HasStart: true}} {
		if text := sheetOf(t, p, h); strings.Contains(text, "\f") || strings.Count(text, "\n") > 66 {
			t.Errorf("%d lines:\n%s", strings.Count(text, "\n"), text)
		}
	}
}

// Whatever the day, no page is longer or wider than paper, and no step, person
// or addition is missing.
func TestEverySheetFitsItsPaperAndLeavesNothingOut(t *testing.T) {
	units := regexp.MustCompile(`\d K\b|\bK/min|\bJ\b|\bkJ|NaN|Inf|%!`)
	one, more := 0, 0
	for seed := range uint64(1000) {
		r := rand.New(rand.NewPCG(seed, 7))
		brew, kettle := randomDay(r)
		if kettle.Diameter < 0.1 { // a rig file has 10 cm at least
			kettle.Diameter = 0
		}
		if seed%10 == 0 { // as long as a file may be
			brew, kettle = rye(), yard()
			brew.Name = strings.Repeat("long name ", 6)
			for len(brew.Steps) < profile.MaxSteps {
				brew.Steps = append(brew.Steps[:1:1], append([]profile.Step{{Kind: profile.Rest, Name: "a rest with a long name", Target: 44, For: time.Minute}}, brew.Steps[1:]...)...)
			}
			boil := &brew.Steps[len(brew.Steps)-2]
			for i := range 30 {
				boil.Additions = append(boil.Additions, profile.Addition{Left: time.Duration(i) * time.Minute, Add: fmt.Sprintf("%d g of what nobody should forget at all", i+1)})
			}
		}
		p, problems := Make(brew, kettle)
		if Refused(problems) {
			continue
		}
		text := sheetOf(t, p, Heading{Rig: "A kettle", Start: time.Duration(r.IntN(24*60)) * time.Minute, HasStart: r.IntN(2) > 0})
		pages := strings.Split(text, "\f")
		for _, page := range pages {
			if n := strings.Count(page, "\n"); n > 66 {
				t.Errorf("seed %d: a page of %d lines", seed, n)
			}
		}
		for _, line := range strings.Split(text, "\n") {
			if utf8.RuneCountInString(strings.TrimPrefix(line, "\f")) > 80 {
				t.Errorf("seed %d: %d columns: %q", seed, utf8.RuneCountInString(line), line)
			}
		}
		if bad := units.FindString(text); bad != "" {
			t.Errorf("seed %d: the sheet says %q", seed, bad)
		}
		leavesNothingOut(t, seed, p, text)
		if len(pages) == 1 {
			one++
		} else {
			more++
		}
	}
	if one < 50 || more < 50 {
		t.Errorf("%d sheets of a page, %d of more: the test sees too little", one, more)
	}
}

func leavesNothingOut(t *testing.T, seed uint64, p Plan, text string) {
	t.Helper()
	flat := strings.Join(strings.Fields(regexp.MustCompile(`\f.*\nPage \d+\n`).ReplaceAllString(text, "")), " ")
	for _, s := range p.Steps {
		if !strings.Contains(flat, fmt.Sprintf("step %d ", s.Index)) {
			t.Errorf("seed %d: step %d cannot be done by hand", seed, s.Index)
		}
		for _, a := range s.Additions {
			if !strings.Contains(flat, "[ ] "+a.Add) {
				t.Errorf("seed %d: %q is not weighed out", seed, a.Add)
			}
		}
	}
	if got, want := strings.Count(text, ":"), len(p.Persons); got < want {
		t.Errorf("seed %d: %d persons are called, %d times stand there", seed, want, got)
	}
	for _, must := range []string{"isolate at the breaker", "licensed electrician", "Never bridge its relay", "Local codes decide", "scalds at once", "cool running water for 20 minutes", "a bare element can set fire"} {
		if !strings.Contains(flat, must) {
			t.Errorf("seed %d: the sheet does not say %q", seed, must)
		}
	}
}

func TestTheSheetSaysWhatThePlanSays(t *testing.T) {
	p, _ := Make(rye(), yard())
	text := sheetOf(t, p, Heading{Rig: "Yard kettle", Start: 9*time.Hour + 30*time.Minute, HasStart: true})
	for _, want := range []string{
		"26.0 L of cold water: 20.7 cm deep. A centimetre holds 1.26 L.",
		"Strike water: 45.8 °C, 20.9 cm deep; for grain 5 °C colder, 0.3 °C more.",
		"     2   10:09   10:28   11:03  Rest                 63.0 °C      35 min  ______",
		"  11:48  [ ] Lift the grain clear",
		"  12:23  [ ] Add 28 g bittering hops: 1 h left of the boil.",
		"18.2 cm at 77 °C; 1.044", "16.0 cm at 99 °C; 1.051", "Into the fermenter 18.4 L",
		"step 2   Heat to 63.0 °C (19 min), keep it 35 min.",
		"never below 13.0 L (10.3 cm)",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is missing in\n%s", want, text)
		}
	}
	// Armed at 21:00 the boil, 3:53 after arming at its end, is over at 0:53.
	late := sheetOf(t, p, Heading{Rig: "Yard kettle", Start: 21 * time.Hour, HasStart: true})
	if !strings.Contains(late, "23:38   00:53  Boil") || !strings.Contains(late, "The day ends after midnight.") {
		t.Error(late)
	}
}

// A covered kettle of C = 117 kJ/K that loses 7 W/K falls from 77 °C in a room
// of 18 °C by 59 (1 - exp(-7 x 3600/117000)) = 11.4 °C in an hour.
func TestTheMashWithoutHeatFallsByTheLawOfCooling(t *testing.T) {
	p, _ := Make(rye(), yard())
	c := 26*998.206/1000*4186 + 4.6*0.40*4186 + 4100
	within(t, "C, J/K", c, 120400, 200)
	within(t, "fall, °C", float64(sheet{Plan: p}.fallsBy()), 59*(1-0.81113), 0.02) // exp(-7*3600/120400) = 0.8111
	colder := float64(sheet{Plan: p}.colderGrain(5))
	kettle, brew := yard(), rye()
	brew.Grain.Temperature -= unit.Celsius(5)
	q, _ := Make(brew, kettle)
	within(t, "strike for colder grain, °C", float64(q.Strike.Temperature-p.Strike.Temperature), colder, 1e-9)
}
