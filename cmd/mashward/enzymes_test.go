package main

import (
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"
)

// A relay that stays closed for two minutes of a rest: what that cost stands with
// the rehearsal and with the record.
func TestWhatAnOvershootCostStandsWithTheBatch(t *testing.T) {
	batch := filepath.Join(t.TempDir(), "day.batch")
	faults := file(t, "welded.yaml", "faults:\n  - {at: {step: 2, after: 5 min}, fault: relay-welded, for: 2 min}\n")
	went := mashward("dryrun", "--rig", yard, "--faults", faults, "--record", batch, brew)
	shown := mashward("record", "show", batch)
	for name, text := range map[string]string{"dryrun": went.out, "record show": shown.out} {
		for _, want := range []string{"Mash enzymes", "an estimate", "Step 2 was up to ", " of the beta-amylase"} {
			if !strings.Contains(text, want) {
				t.Errorf("%s lacks %q:\n%.3000s", name, want, text)
			}
		}
	}
	var out struct {
		Enzymes struct {
			Note  string
			Rests []struct {
				Step int
				Did  struct {
					Cost *struct {
						Above float64 `json:"above_kelvin"`
					} `json:"too_hot_cost"`
				}
			}
		}
	}
	a := mashward("record", "show", "--format", "json", batch)
	if err := json.Unmarshal([]byte(a.out), &out); err != nil || !strings.Contains(out.Enzymes.Note, "estimate") || len(out.Enzymes.Rests) < 2 {
		t.Fatalf("%v: %+v", err, out)
	}
	if r := out.Enzymes.Rests; r[0].Step != 1 || r[0].Did.Cost != nil || r[1].Step != 2 || r[1].Did.Cost == nil || r[1].Did.Cost.Above < 1 {
		t.Errorf("%+v", r)
	}
}

func TestAWaterDayHasNoEnzymes(t *testing.T) {
	batch := filepath.Join(t.TempDir(), "day.batch")
	water := filepath.Join(filepath.Dir(brew), "water-only.yaml")
	for name, a := range map[string]answer{
		"plan":        mashward("plan", "--rig", yard, water),
		"dryrun":      mashward("dryrun", "--rig", yard, "--record", batch, water),
		"record show": mashward("record", "show", batch),
	} {
		if a.code != 0 || strings.Contains(a.out, "nzyme") {
			t.Errorf("%s: %d\n%s", name, a.code, a.out)
		}
	}
}
