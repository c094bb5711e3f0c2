package plan

import (
	"bytes"
	"encoding/json"
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/profile"
)

// The form is read here as a program would, without the types that wrote it.
func enzymesIn(t *testing.T, p Plan) (report any, steps []any) {
	t.Helper()
	var b bytes.Buffer
	if err := JSON(&b, p); err != nil {
		t.Fatal(err)
	}
	var out map[string]any
	if err := json.Unmarshal(b.Bytes(), &out); err != nil {
		t.Fatal(err)
	}
	for _, s := range out["steps"].([]any) {
		steps = append(steps, s.(map[string]any)["enzymes"])
	}
	return out["enzymes"], steps
}

// Common practice, no source: rests at 62 and 72 °C ferment further than one at 67.
func TestTwoProfilesCanBeComparedBeforeBrewing(t *testing.T) {
	sugar := func(rests ...unit.Celsius) unit.Ratio {
		brew := rye()
		brew.Steps = nil
		for i, c := range rests {
			kind := profile.Rest
			if i == 0 {
				kind = profile.MashIn
			}
			brew.Steps = append(brew.Steps, profile.Step{Kind: kind, Target: c, For: 30 * time.Minute, Floor: 1})
		}
		p, _ := Make(brew, yard())
		e, known := p.Enzymes().State().Estimate()
		if !known {
			t.Fatalf("%v: not known", rests)
		}
		return e.Sugar.Mid
	}
	if stepped, single := sugar(52, 62, 72, 78), sugar(67, 67, 78); stepped < single+0.2 {
		t.Errorf("stepped %.2f sugar, single %.2f", stepped, single)
	}
}

func TestOnlyRestsOfAMashHaveEnzymes(t *testing.T) {
	p, _ := Make(rye(), yard())
	report, steps := enzymesIn(t, p)
	if report == nil {
		t.Error("nothing is said of the mash")
	}
	for i, s := range p.Steps {
		rest := s.Kind == profile.MashIn || s.Kind == profile.Rest || s.Kind == profile.MashOut
		if rest != (steps[i] != nil) {
			t.Errorf("%s: %v", s.Kind, steps[i])
		}
	}
	water := profile.Profile{Name: "Water", Water: 26, Steps: []profile.Step{{Kind: profile.Rest, Target: 62, For: time.Hour}}}
	p, _ = Make(water, yard())
	if report, steps := enzymesIn(t, p); report != nil || steps[0] != nil {
		t.Errorf("water alone: %v, %v", report, steps)
	}
}
