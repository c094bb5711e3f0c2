package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"mashward/profile"
)

// A scaled profile is a profile: it plans to what was wished for, and scales
// back to where it came from.
func TestAScaledProfileIsAFileLikeAnyOther(t *testing.T) {
	out := filepath.Join(t.TempDir(), "small.yaml")
	a := mashward("plan", "--rig", yard, "--wanted", "17 L", "--gravity", "1.046", "--out", out, brew)
	if a.code != 0 || !strings.HasPrefix(a.out, "Written to "+out+".\n") || !strings.Contains(a.out, "into the fermenter") {
		t.Fatalf("%d\n%s\n%s", a.code, a.out, a.err)
	}
	day := mashward("plan", "--rig", yard, "--format", "json", out)
	var p struct {
		Wort struct {
			Gravity   float64 `json:"original_gravity"`
			Fermenter float64 `json:"fermenter_litres"`
		} `json:"wort"`
	}
	if err := json.Unmarshal([]byte(day.out), &p); err != nil {
		t.Fatal(err)
	}
	if g := p.Wort.Gravity; g < 1.0455 || g > 1.0465 || p.Wort.Fermenter < 16.9 || p.Wort.Fermenter > 17.1 {
		t.Errorf("%+v", p.Wort)
	}
	if a := mashward("check", "--rig", yard, out); a.code != 0 {
		t.Errorf("%d\n%s\n%s", a.code, a.out, a.err)
	}
}

func TestWhatDoesNotFitIsNotWritten(t *testing.T) {
	out := file(t, "kept.yaml", "# kept\n")
	a := mashward("plan", "--rig", pot, "--wanted", "19 L", "--out", out, brew)
	text, err := os.ReadFile(out)
	if a.code != 65 || a.out != "" || err != nil || string(text) != "# kept\n" || !strings.Contains(a.err, "the kettle holds 20.0 L") {
		t.Errorf("%d %q\n%s\n%s", a.code, text, a.out, a.err)
	}
}

func TestAProfileIsNotOverwrittenByItsOwnScaling(t *testing.T) {
	text, err := os.ReadFile(brew)
	if err != nil {
		t.Fatal(err)
	}
	mine := file(t, "mine.yaml", string(text))
	a := mashward("plan", "--rig", yard, "--wanted", "17 L", "--out", mine, mine)
	after, err := os.ReadFile(mine)
	if a.code != 64 || err != nil || string(after) != string(text) {
		t.Errorf("%d\n%s", a.code, a.err)
	}
}

func TestTheScaledProfileForProgramsIsTheSameText(t *testing.T) {
	plain := mashward("plan", "--rig", yard, "--grain", "5 kg", brew)
	a := mashward("plan", "--rig", yard, "--grain", "5 kg", "--format", "json", brew)
	var s scaledJSON
	if err := json.Unmarshal([]byte(a.out), &s); err != nil {
		t.Fatal(err)
	}
	if s.Text != plain.out || s.Grain != 5 || s.Factor <= 1 || len(s.Changes) == 0 || !strings.Contains(string(s.Plan), `"original_gravity"`) {
		t.Errorf("%+v", s)
	}
	if p, faults := profile.Parse("f", []byte(s.Text)); len(faults) > 0 || p.Grain.Mass != 5 {
		t.Errorf("%v", faults)
	}
}
