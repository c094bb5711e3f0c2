package config

import (
	"path/filepath"
	"testing"
	"time"
)

func TestATuningReadsBackAsItWasWrittenWhateverTheKettleIsCalled(t *testing.T) {
	for _, name := range []string{"Yard kettle", "Kettle: the second", "# 3", "null", "7", "[odd]", `"quoted"`} {
		want := Tuning{
			Name: name, Power: 2492.9, Water: 20, Capacity: 87070, Loss: 5.3,
			Element: 6900 * time.Millisecond, Probe: 8600 * time.Millisecond, Delay: time.Second, Mixing: 24 * time.Second,
			Share: 0.22, Noise: 0.055, Residual: 0.0545, Doubt: 0.0021,
		}
		path := filepath.Join(t.TempDir(), "kettle.tuning.yaml")
		write(t, path, string(want.Text()))
		got, faults, err := LoadTuning(path)
		if err != nil || len(faults) > 0 {
			t.Errorf("%q: %v, %v\n%s", name, err, faults, want.Text())
		}
		if got != want {
			t.Errorf("written %+v\nread    %+v", want, got)
		}
		if r := CheckFile(path, nil); r.Kind != "tuning" || r.Code != 0 || len(r.Faults) > 0 {
			t.Errorf("%q: checked as %+v", name, r)
		}
		if text, _, err := Show(path, nil); err != nil || text != string(want.Text()) {
			t.Errorf("%q: shown as %q, %v", name, text, err)
		}
	}
}

// A tuning that is off by a kind of unit would drive a kettle wrongly.
func TestATuningWithAMistakeIsABadRig(t *testing.T) {
	path := filepath.Join(t.TempDir(), "kettle.tuning.yaml")
	write(t, path, "tuning: Yard kettle\npower: 2500\n")
	if r := CheckFile(path, nil); r.Kind != "tuning" || r.Code != ExitBadRig {
		t.Errorf("checked as %+v", r)
	}
}
