package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestATestKeepsTheTuningBeforeAndRestoreBringsItBack: the second test keeps what
// the first has written; restore swaps the two, and again.
func TestATestKeepsTheTuningBeforeAndRestoreBringsItBack(t *testing.T) {
	out := filepath.Join(t.TempDir(), "kettle.tuning.yaml")
	text := func(path string) string {
		t.Helper()
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	if a := mashward("tune", "--restore", "--out", out); a.code != 66 {
		t.Errorf("nothing to bring back: %d %s", a.code, a.err)
	}
	for _, seed := range []string{"1", "2"} {
		if a := mashward("tune", "--simulate", "--rig", yard, "--seed", seed, "--out", out); a.code != 0 {
			t.Fatal(a)
		}
		if seed == "1" {
			if _, err := os.Stat(out + ".before"); err == nil {
				t.Error("there was none before the first")
			}
		}
	}
	first, second := text(out+".before"), text(out)
	if first == second || !strings.Contains(first, "power:") {
		t.Fatalf("two tests of other noise gave %q and %q", first, second)
	}
	for _, want := range []string{first, second} {
		if a := mashward("tune", "--restore", "--out", out); a.code != 0 || !strings.Contains(a.out, "as it was before") {
			t.Fatal(a)
		}
		if text(out) != want {
			t.Error("it is not the one before")
		}
	}
	// A test that is refused stores nothing and keeps nothing.
	dry := file(t, "dry.yaml", "plant: dry\nelement: {power: 200 W}\n")
	if a := mashward("tune", "--rig", yard, "--plant", dry, "--out", out); a.code != 1 {
		t.Errorf("a test without heat: %d", a.code)
	}
	if text(out) != second || text(out+".before") != first {
		t.Error("a refused test has changed a file")
	}
	if left, err := os.ReadDir(filepath.Dir(out)); err != nil || len(left) != 2 {
		t.Errorf("the folder holds %v, %v", left, err)
	}
}
