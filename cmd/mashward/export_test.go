package main

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"
)

// TestTheExportOfARecordIsThatOfItsDay runs a day that writes both, and compares what
// is made of the record with what was seen: every sample, but for what no record holds.
// The parser of Prometheus reads it; it knows the older text form.
func TestTheExportOfARecordIsThatOfItsDay(t *testing.T) {
	const start = "2026-01-10T08:00:00Z"
	path := filepath.Join(t.TempDir(), "day.batch")
	seen := writes(t, "dryrun", "--rig", yard, "--record", path, "--export", "openmetrics", "--start", start, "../../testdata/profiles/one-rest.yaml")
	made := writes(t, "record", "export", "--format", "openmetrics", "--start", start, path)
	parser := expfmt.NewTextParser(model.LegacyValidation)
	if families, err := parser.TextToMetricFamilies(strings.NewReader(made)); err != nil || len(families) < 25 {
		t.Fatalf("%d families: %v", len(families), err)
	}
	if !strings.HasSuffix(made, "\n# EOF\n") {
		t.Errorf("it ends in %q", made[max(0, len(made)-40):])
	}
	// The record knows which program wrote it in one word, and the batch by its beginning.
	apart := []string{"mashward_build_info", "mashward_batch_info"}
	missing := map[string]bool{}
	have := map[string]bool{}
	for line := range strings.Lines(made) {
		have[line] = true
	}
	samples := 0
	for line := range strings.Lines(seen) {
		name := line[:strings.IndexAny(line, "{ ")]
		if strings.HasPrefix(line, "#") || slices.Contains(apart, name) {
			continue
		}
		samples++
		if !have[line] {
			missing[name] = true
		}
		delete(have, line)
	}
	for line := range have {
		if !strings.HasPrefix(line, "#") && !slices.Contains(apart, line[:strings.IndexByte(line, '{')]) {
			t.Errorf("the record alone has %s", line)
		}
	}
	if samples < 20_000 {
		t.Errorf("only %d samples", samples)
	}
	for _, name := range []string{"feedforward_ratio", "proportional_ratio", "integral_ratio", "derivative_ratio", "on_mean"} {
		delete(missing, "mashward_control_"+name)
	}
	delete(missing, "mashward_ramp_rate_celsius_per_second")
	for name := range missing {
		t.Errorf("not as it was seen: %s", name)
	}
}

// writes is what a command writes, which has to go well.
func writes(t *testing.T, words ...string) string {
	t.Helper()
	a := mashward(words...)
	if a.code != 0 {
		t.Fatalf("%q: %d\n%s", words, a.code, a.err)
	}
	return a.out
}
