package main

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// short is a mash with a promise that some of its days break.
const short = `profile: Short
water: 24 L
grain: {mass: 4.2 kg, temperature: 18 °C}
steps:
  - {mash-in: 60 °C, for: 10 min}
  - {rest: 63 °C, for: 10 min}
expect:
  - {step: 2, never_above: 63.1 °C}
  - {done_within: 9 h}
`

// TestADayOfASpreadIsRunAgainByItsSeed: what --spread 6 says of a seed is what
// --spread 1 shows of it, as text, JSON and trace.
func TestADayOfASpreadIsRunAgainByItsSeed(t *testing.T) {
	day := file(t, "short.yaml", short)
	call := []string{"dryrun", "--rig", yard, "--person-delay", "1 min", "--format", "json"}
	many := mashward(append(slices.Clone(call), "--spread", "6", "--seed", "1", day)...)
	var s struct {
		Runs, Kept   int
		Seed         uint64
		Expectations []struct {
			Kept   int
			Broken []uint64 `json:"broken_seeds"`
		}
	}
	if err := json.Unmarshal([]byte(many.out), &s); err != nil || many.code != 1 || s.Runs != 6 || s.Seed != 1 || len(s.Expectations) != 2 {
		t.Fatalf("%v: %d\n%s%s", err, many.code, many.out, many.err)
	}
	broken := s.Expectations[0].Broken
	if len(broken) == 0 || len(broken) == 6 || s.Kept != 6-len(broken) {
		t.Fatalf("%+v shows nothing", s)
	}
	for seed := uint64(1); seed <= 6; seed++ {
		one := mashward(append(slices.Clone(call), "--spread", "1", "--seed", fmt.Sprint(seed), day)...)
		if wants := slices.Contains(broken, seed); (one.code == 1) != wants {
			t.Errorf("seed %d: exit code %d, broken in the spread: %v", seed, one.code, wants)
		}
	}
	trace := filepath.Join(t.TempDir(), "day.csv")
	seed := fmt.Sprint(broken[0])
	a := mashward("dryrun", "--rig", yard, "--spread", "1", "--seed", seed, "--trace", trace, day)
	if a.code != 1 || !strings.HasPrefix(a.out, "The day that seed "+seed+" draws:\n  element ") || !strings.Contains(a.out, "BROKEN  never above 63.1 °C in step 2") {
		t.Errorf("%d\n%s%s", a.code, a.out, a.err)
	}
	text := mashward("dryrun", "--rig", yard, "--spread", "6", "--seed", "1", day)
	for _, words := range []string{"6 rehearsals of \"Short\"", "seeds 1 to 6", "6 of 6 were complete", "kept in 6 of 6  done within 9 h", "BROKEN by seed ", "How the days differ"} {
		if !strings.Contains(text.out, words) {
			t.Errorf("%q is not in\n%s", words, text.out)
		}
	}
}

func TestCallsThatNoSpreadCanBeOf(t *testing.T) {
	day := file(t, "short.yaml", short)
	for _, e := range []ending{
		{64, "from 1 to 1000", []string{"--spread", "1001"}},
		{64, "from 1 to 1000", []string{"--spread", "-1"}},
		{64, "are of one day", []string{"--spread", "2", "--trace", "x.csv"}},
		{64, "are of one day", []string{"--spread", "2", "--record", "x.batch"}},
		{64, "are of one day", []string{"--spread", "2", "--report", "x.html"}},
		{64, "are of one day", []string{"--spread", "2", "--export", "openmetrics"}},
		{64, "leave one out", []string{"--spread", "2", "--plant", "unix:/tmp/none"}},
		{66, "none.yaml", []string{"--spread", "2", "--plant", "none.yaml"}},
	} {
		e.args = append(append([]string{"dryrun", "--rig", yard}, e.args...), day)
		e.check(t)
	}
}
