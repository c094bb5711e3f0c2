package main

import (
	"encoding/json"
	"os"
	"strings"
	"testing"
)

const promised = samples + "profiles/wheat-promised.yaml"

// with is the promised sample with one bound changed.
func with(t *testing.T, old, now string) string {
	t.Helper()
	text, err := os.ReadFile(promised)
	if err != nil || strings.Count(string(text), old) != 1 {
		t.Fatalf("%q is not once in the sample: %v", old, err)
	}
	return file(t, "day.yaml", strings.Replace(string(text), old, now, 1))
}

// TestAPromiseDecidesTheExitCode: the same complete day, once with a promise that
// it does not keep.
func TestAPromiseDecidesTheExitCode(t *testing.T) {
	ending{0, "kept    done within 5 h: took 3:", []string{"dryrun", "--rig", yard, promised}}.check(t)
	short := with(t, "done_within: 5 h", "done_within: 3 h 30 min")
	ending{1, "BROKEN  done within 3 h 30 min: took 3:", []string{"dryrun", "--rig", yard, short}}.check(t)
	ending{0, "\"the day takes 3 h 38 min, and 3 h 30 min is expected at most\"", []string{"plan", "--rig", yard, "--format", "json", short}}.check(t)
	a := mashward("dryrun", "--rig", yard, "--format", "json", short)
	var out struct {
		Outcome      string
		Expectations []struct {
			Promise  string
			Step     int
			Kept     bool
			Promised *float64 `json:"promised_seconds"`
			Was      *float64 `json:"was_seconds"`
		}
	}
	if err := json.Unmarshal([]byte(a.out), &out); err != nil || a.code != 1 || out.Outcome != "complete" || len(out.Expectations) != 6 {
		t.Fatalf("%d, %v, %+v", a.code, err, out)
	}
	for _, e := range out.Expectations {
		if e.Kept != (e.Promise != "done_within") {
			t.Errorf("%+v", e)
		}
		if e.Promise == "done_within" && (e.Step != 0 || e.Promised == nil || *e.Promised != 12600 || e.Was == nil || *e.Was <= 12600) {
			t.Errorf("%+v", e)
		}
	}
	if plain := mashward("dryrun", "--rig", yard, "--format", "json", brew); strings.Contains(plain.out, "expectations") {
		t.Error("a day without expectations speaks of them")
	}
}
