package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"mashward/cmd/internal/suggest"
)

// A plant whose element has 15 % less than the rig declares.
const weak = "plant: Yard kettle with a tired element\nelement: {power: 2550 W}\n"

func TestAKettleThatIsAnotherIsSaidAndNotWritten(t *testing.T) {
	folder := t.TempDir()
	plant := file(t, "weak.yaml", weak)
	batch, page := filepath.Join(folder, "day.batch"), filepath.Join(folder, "day.html")
	command := "mashward tune --rig " + yard + " --from " + batch + " --out " + strings.TrimSuffix(yard, ".yaml") + ".tuning.yaml"
	wants := []string{"as if the element had 2.5", " kW instead of 3.00 kW", "instead of 26.0 L; a temperature cannot tell which", "othing has been changed"}
	a := mashward("dryrun", "--rig", yard, "--plant", plant, "--record", batch, "--report", page, brew)
	html, err := os.ReadFile(page)
	if a.code != 0 || err != nil {
		t.Fatal(a, err)
	}
	shown := mashward("record", "show", batch)
	for name, text := range map[string]string{"dryrun": a.out, "the report": string(html), "record show": shown.out} {
		for _, want := range wants {
			if !strings.Contains(text, want) {
				t.Errorf("%s lacks %q:\n%.3000s", name, want, text)
			}
		}
	}
	if !strings.Contains(a.out, command) || !strings.Contains(string(html), command) {
		t.Errorf("without the command %s:\n%s", command, a.out)
	}
	if want := "mashward tune --rig RIG.yaml --from " + batch + " --out RIG.tuning.yaml"; !strings.Contains(shown.out, want) {
		t.Errorf("record show lacks %s:\n%s", want, shown.out)
	}
	if names, _ := os.ReadDir(folder); len(names) != 2 {
		t.Errorf("beside record and report there is %v", names)
	}
	if _, err := os.Stat(strings.TrimSuffix(yard, ".yaml") + ".tuning.yaml"); err == nil {
		t.Error("a tuning was written")
	}
	// The command does what it says, and then there is nothing to suggest.
	out := filepath.Join(folder, "kettle.tuning.yaml")
	if a := mashward("tune", "--rig", yard, "--from", batch, "--out", out); a.code != 0 {
		t.Fatal(a)
	}
	if a := mashward("dryrun", "--rig", yard, "--tuning", out, "--plant", plant, brew); a.code != 0 || strings.Contains(a.out, "tune --rig") {
		t.Errorf("suggested again: %s", a.out)
	}
}

func TestASuggestionInJSONIsOneKeyMore(t *testing.T) {
	for name, c := range map[string]struct {
		args []string
		want bool
	}{
		"weak":        {[]string{"--plant", file(t, "weak.yaml", weak)}, true},
		"as built":    {[]string{"--plant", samples + "plants/yard-kettle-as-built.yaml"}, false},
		"as declared": {nil, false},
	} {
		a := mashward(append([]string{"dryrun", "--rig", yard, "--format", "json", brew}, c.args...)...)
		var keys map[string]json.RawMessage
		if err := json.Unmarshal([]byte(a.out), &keys); err != nil {
			t.Fatal(name, err)
		}
		text, there := keys["suggestion"]
		if there != c.want {
			t.Errorf("%s: a suggestion: %v: %s", name, there, text)
		}
		for _, key := range []string{"outcome", "reason", "simulated", "duration_seconds", "energy_joules", "element_switches", "strike", "steps", "trips", "cuts", "alarms", "enzymes"} {
			if _, has := keys[key]; !has {
				t.Errorf("%s: no key %s", name, key)
			}
			delete(keys, key)
		}
		delete(keys, "suggestion")
		if len(keys) > 0 {
			t.Errorf("%s: also %v", name, keys)
		}
		if !there {
			continue
		}
		var told suggest.Told
		if err := json.Unmarshal(text, &told); err != nil || told.Power < 0.82 || told.Power > 0.88 || told.Text == "" || !strings.Contains(told.Command, "--from day.batch") {
			t.Errorf("%s: %v, %s", name, err, text)
		}
	}
}

func TestARecordThatAgreesSaysSoInOneLine(t *testing.T) {
	batch := filepath.Join(t.TempDir(), "day.batch")
	if a := mashward("dryrun", "--rig", yard, "--record", batch, brew); a.code != 0 || strings.Contains(a.out, "heat-up shows") {
		t.Fatal(a)
	}
	a := mashward("record", "show", batch)
	if lines := strings.Split(strings.TrimSpace(a.out), "\n"); !strings.HasPrefix(lines[len(lines)-1], "the strike heat-up agrees with the figures it was run with: power within ") {
		t.Errorf("the last line is %q", lines[len(lines)-1])
	}
	if a := mashward("record", "show", "--format", "json", batch); strings.Contains(a.out, "Suggestion") {
		t.Error("a suggestion although it agrees")
	}
}
