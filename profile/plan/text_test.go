package plan

import (
	"bytes"
	"cmp"
	"encoding/json"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"mashward/controller/unit"
	"mashward/profile"
)

func textOf(t *testing.T, p Plan) string {
	t.Helper()
	var b bytes.Buffer
	if err := Text(&b, p); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// randomDay is any day that a file could name, sane or not.
func randomDay(r *rand.Rand) (profile.Profile, Kettle) {
	span := func(low, high float64) float64 { return low + r.Float64()*(high-low) }
	p := profile.Profile{Name: strings.Repeat("long name ", r.IntN(12)), Water: unit.Litres(span(-2, 90))}
	if r.IntN(4) > 0 {
		p.Grain = profile.Grain{
			Mass: unit.Kilograms(span(0.2, 15)), Temperature: unit.Celsius(span(-5, 35)),
			Moisture: unit.Ratio(span(0, 0.15)), Slaking: unit.JoulesPerKilogram(span(0, 30000)),
			Extract: unit.Ratio(span(0, 1)), Conversion: unit.Ratio(span(0, 1)),
		}
		p.Steps = append(p.Steps, profile.Step{Kind: profile.MashIn, Target: unit.Celsius(span(30, 75)), For: 10 * time.Minute})
	}
	for range 1 + r.IntN(6) {
		p.Steps = append(p.Steps, profile.Step{
			Kind: profile.Kind(1 + r.IntN(7)), Target: unit.Celsius(span(0, 110)),
			For: time.Duration(span(0, 120)) * time.Minute, Ramp: unit.KelvinPerSecond(span(-0.02, 0.05)),
			BoilOff: unit.LitresPerSecond(span(-0.001, 0.002)), Line: r.IntN(30),
			Additions: []profile.Addition{{Left: time.Duration(span(0, 90)) * time.Minute, Add: "an addition"}},
		})
	}
	if r.IntN(4) > 0 { // most days in the order of the trade, so that they can be run
		slices.SortFunc(p.Steps, func(a, b profile.Step) int {
			return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Target, b.Target))
		})
	}
	for i := range p.Steps {
		p.Steps[i].Ramp, p.Steps[i].BoilOff = max(0, p.Steps[i].Ramp), max(0, p.Steps[i].BoilOff)
	}
	return p, Kettle{
		Capacity: unit.Litres(span(40, 150)), Diameter: unit.Metres(span(-0.02, 0.6)), ElementCoveredAt: unit.Litres(span(0, 10)),
		Vessel: unit.JoulesPerKelvin(span(0, 9000)), Loss: unit.WattsPerKelvin(span(-0.5, 12)), Power: unit.Watts(span(-100, 6000)),
		Relay: RelayKind(r.IntN(2)), Pump: r.IntN(2) > 0, InBoil: r.IntN(2) > 0, Probe: Place(r.IntN(3)), ProbeCoveredAt: unit.Litres(span(0, 10)),
		Voltage: unit.Volts(span(-50, 250)), Fuse: unit.Amperes(span(-9, 40)), Altitude: unit.Metres(span(-200, 5000)),
		Room: unit.Celsius(span(-10, 45)), Tap: unit.Celsius(span(1, 40)), Retention: unit.LitresPerKilogram(span(0, 2)),
		Stirring: unit.Kelvin(span(0, 2)), OverTemperature: unit.Celsius(float64(r.IntN(3)/2) * span(60, 105)),
	}
}

func TestEveryPlanIsReadableAndKeepsItsClock(t *testing.T) {
	units := regexp.MustCompile(`\d K\b|\bK/min|\bJ\b|\bkJ|NaN|Inf|%!`)
	finished := 0
	for seed := range uint64(1000) {
		brew, kettle := randomDay(rand.New(rand.NewPCG(seed, 1)))
		p, problems := Make(brew, kettle)
		text := textOf(t, p)
		for _, line := range strings.Split(text, "\n") {
			if utf8.RuneCountInString(line) > 80 {
				t.Errorf("seed %d: a line of more than 80 columns: %q", seed, line)
			}
		}
		if bad := units.FindString(text); bad != "" {
			t.Errorf("seed %d: the text says %q:\n%s", seed, bad, text)
		}
		if err := JSON(&bytes.Buffer{}, p); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
		for _, problem := range problems {
			if problem.What == "" || problem.Remedy == "" {
				t.Errorf("seed %d: a problem without words: %+v", seed, problem)
			}
		}
		keepsItsClock(t, seed, p)
		if !Refused(problems) {
			finished++
		}
	}
	if finished < 60 {
		t.Errorf("only %d of the random days could be run: the test sees too little", finished)
	}
}

// keepsItsClock checks the contract of the clock: a step starts where the one
// before ends, but mash-in when the grain is in.
func keepsItsClock(t *testing.T, seed uint64, p Plan) {
	t.Helper()
	now, energy := time.Duration(0), unit.Joules(0)
	for _, s := range p.Steps {
		if s.Kind == profile.MashIn {
			now += Pour
		}
		if s.Start != now || s.Reached < s.Start || s.End != s.Reached+s.Hold || s.Gentle > s.Heat() || s.Duty < 0 || s.Duty > 1 || s.Energy < 0 {
			t.Errorf("seed %d: step %+v does not fit the clock at %v", seed, s, now)
		}
		now, energy = s.End, energy+s.Energy
	}
	if p.Energy != energy {
		t.Errorf("seed %d: energy %g is not the steps' %g", seed, p.Energy, energy)
	}
	for i, who := range p.Persons {
		if i > 0 && who.At < p.Persons[i-1].At || !strings.HasSuffix(who.What, ".") {
			t.Errorf("seed %d: person %d: %+v", seed, i, who)
		}
	}
}

func TestTheJSONHoldsTheAgreedFields(t *testing.T) {
	p, _ := Make(rye(), yard())
	var b bytes.Buffer
	if err := JSON(&b, p); err != nil {
		t.Fatal(err)
	}
	var day map[string]any
	if err := json.Unmarshal(b.Bytes(), &day); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"strike", "steps", "person_needed", "finish_seconds", "energy_joules"} {
		if day[key] == nil {
			t.Errorf("%q is missing", key)
		}
	}
	steps := day["steps"].([]any)
	if len(steps) != 8 {
		t.Fatalf("%d steps, want the strike and seven entries", len(steps))
	}
	for i, s := range steps {
		step := s.(map[string]any)
		if step["index"] != float64(i) {
			t.Errorf("step %d has index %v", i, step["index"])
		}
		for _, key := range []string{"kind", "name", "target_celsius", "planned_seconds", "planned_heat_seconds", "start_seconds", "end_seconds"} {
			if _, there := step[key]; !there {
				t.Errorf("step %d has no %q", i, key)
			}
		}
	}
	if lift := steps[5].(map[string]any); lift["kind"] != "lift" || lift["target_celsius"] != nil {
		t.Errorf("a lift has no target: %v", lift)
	}
	boil := steps[6].(map[string]any)["target_celsius"].(float64)
	within(t, "boil target, °C", boil, 98.844, 0.001)
	strike := day["strike"].(map[string]any)
	if strike["water_litres"] != 26.0 || strike["temperature_celsius"] != steps[0].(map[string]any)["target_celsius"] {
		t.Errorf("strike %v", strike)
	}
}

func TestARefusedDayHasNoFinishInItsJSON(t *testing.T) {
	kettle := yard()
	kettle.Fuse = 10
	p, _ := Make(rye(), kettle)
	var b bytes.Buffer
	if err := JSON(&b, p); err != nil {
		t.Fatal(err)
	}
	if out := b.String(); !strings.Contains(out, `"finish_seconds": null`) || !strings.Contains(out, `"refused": true`) {
		t.Error("a refused day names a finish")
	}
	if text := textOf(t, p); !strings.Contains(text, "cannot be run as it stands") || !strings.Contains(text, "\nRefused\n") {
		t.Errorf("the text does not say that the day is refused:\n%s", text)
	}
}

func TestWordsAreBrokenBetweenNumbersNotBeforeUnits(t *testing.T) {
	got := wrap("", "the wort stands at 18 °C.", 2, 21)
	if want := "the wort stands at\n  18 °C.\n"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	for d, want := range map[time.Duration]string{40 * time.Second: "40 s", 5 * time.Minute: "5 min", 2 * time.Hour: "2 h", 75 * time.Minute: "1 h 15 min"} {
		if got := spell(d); got != want {
			t.Errorf("%v is spelled %q, want %q", d, got, want)
		}
	}
	if got := clock(125*time.Minute + 40*time.Second); got != "2:06" {
		t.Errorf("clock: %q", got)
	}
}
