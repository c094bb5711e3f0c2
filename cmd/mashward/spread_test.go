package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// TestADayOfASpreadIsRunAgainByItsSeed: what --spread says of a seed is what
// --spread 1 shows of it, as JSON, as text and with a trace.
func TestADayOfASpreadIsRunAgainByItsSeed(t *testing.T) {
	day := file(t, "day.yaml", promised)
	call := []string{"dryrun", "--rig", yard, "--person-delay", "1 min", "--format", "json"}
	many := mashward(append(slices.Clone(call), "--spread", "4", "--seed", "5", day)...)
	var s struct {
		Runs, Kept   int
		Seed         uint64
		Expectations []struct {
			Broken []uint64 `json:"broken_seeds"`
		}
	}
	if err := json.Unmarshal([]byte(many.out), &s); err != nil || many.code != 1 || s.Runs != 4 || s.Seed != 5 || len(s.Expectations) != 2 {
		t.Fatalf("%v: %d\n%s%s", err, many.code, many.out, many.err)
	}
	broken := s.Expectations[0].Broken
	if len(broken) == 0 || len(broken) == 4 || s.Kept != 4-len(broken) {
		t.Fatalf("%+v shows nothing", s)
	}
	kept := uint64(5)
	for slices.Contains(broken, kept) {
		kept++
	}
	if one := mashward(append(slices.Clone(call), "--spread", "1", "--seed", fmt.Sprint(kept), day)...); one.code != 0 {
		t.Errorf("seed %d: exit code %d", kept, one.code)
	}
	trace, seed := filepath.Join(t.TempDir(), "day.csv"), fmt.Sprint(broken[0])
	a := mashward("dryrun", "--rig", yard, "--person-delay", "1 min", "--spread", "1", "--seed", seed, "--trace", trace, day)
	if a.code != 1 || !strings.HasPrefix(a.out, "The day that seed "+seed+" draws:\n  element ") || !strings.Contains(a.out, "BROKEN  never above 63.1 °C in step 2") {
		t.Errorf("%d\n%s%s", a.code, a.out, a.err)
	}
	if about, err := os.Stat(trace); err != nil || about.Size() < 100_000 {
		t.Error(about, err)
	}
}

func TestCallsThatNoSpreadCanBeOf(t *testing.T) {
	day := file(t, "day.yaml", promised)
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
