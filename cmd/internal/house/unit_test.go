package house

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// What SAFETY.md leaves to the service manager stands in its unit.
func TestTheUnitSwitchesOffWhateverEndsTheDaemon(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(top, "deploy/mashward.service"))
	if err != nil {
		t.Fatal(err)
	}
	keys := map[string]string{}
	for row := range strings.Lines(string(text)) {
		if key, value, ok := strings.Cut(strings.TrimSpace(row), "="); ok && !strings.HasPrefix(key, "#") {
			keys[key] = value
		}
	}
	start, after := keys["ExecStart"], keys["ExecStopPost"]
	_, state, _ := strings.Cut(start, "--state ")
	if program, _, _ := strings.Cut(start, " serve "); after != program+" element-off --state "+state || state == "" {
		t.Errorf("ExecStart=%s\nExecStopPost=%s\nthe second must switch off what the first has named", start, after)
	}
	for key, want := range map[string]string{"Type": "notify", "KillMode": "control-group", "Restart": "on-failure"} {
		if keys[key] != want {
			t.Errorf("%s=%s, want %s", key, keys[key], want)
		}
	}
	// A tick that is not whole must not count for longer than this; a probe that
	// hangs for a moment must not cost the batch.
	if d, err := time.ParseDuration(keys["WatchdogSec"] + "s"); err != nil || d < 10*time.Second || d > time.Minute {
		t.Errorf("WatchdogSec=%s: %v", keys["WatchdogSec"], err)
	}
}
