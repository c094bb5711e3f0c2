package main

import (
	"encoding/json"
	"strings"
	"testing"
)

// short is a mash that one of two promises is about; some of its days break it.
const short = `profile: Short
water: 24 L
grain: {mass: 4.2 kg, temperature: 18 °C}
steps:
  - {mash-in: 60 °C, for: 10 min}
  - {rest: 63 °C, for: 10 min}
`

const promised = short + `expect:
  - {step: 2, never_above: 63.1 °C}
  - {done_within: 9 h}
`

// TestAPromiseDecidesTheExitCode: the same complete day, once with a promise that
// it does not keep.
func TestAPromiseDecidesTheExitCode(t *testing.T) {
	good := file(t, "good.yaml", promised)
	ending{0, "\nPromised\n  kept    never above 63.1 °C in step 2 (rest at 63 °C): highest 6", []string{"dryrun", "--rig", yard, good}}.check(t)
	late := file(t, "late.yaml", strings.Replace(promised, "9 h", "50 min", 1))
	ending{0, "\"the day takes 55 min, and 50 min is expected at most\"", []string{"plan", "--rig", yard, "--format", "json", late}}.check(t)
	a := mashward("dryrun", "--rig", yard, "--format", "json", late)
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
	if err := json.Unmarshal([]byte(a.out), &out); err != nil || a.code != 1 || out.Outcome != "complete" || len(out.Expectations) != 2 {
		t.Fatalf("%d, %v, %+v", a.code, err, out)
	}
	if e := out.Expectations[0]; e.Promise != "never_above" || e.Step != 2 || !e.Kept || e.Promised != nil || e.Was != nil {
		t.Errorf("%+v", e)
	}
	if e := out.Expectations[1]; e.Promise != "done_within" || e.Step != 0 || e.Kept || e.Promised == nil || *e.Promised != 3000 || e.Was == nil || *e.Was <= 3000 {
		t.Errorf("%+v", e)
	}
	plain := mashward("dryrun", "--rig", yard, "--format", "json", file(t, "plain.yaml", short))
	if plain.code != 0 || strings.Contains(plain.out, "expectations") {
		t.Errorf("a day without expectations speaks of them: %d", plain.code)
	}
}
