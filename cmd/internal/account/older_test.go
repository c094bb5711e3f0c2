package account

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"mashward/controller/record"
)

// Records that programs of those days wrote of two minutes at 20 °C, rehearsed on the
// sample rig. Both heads have figures that there are not any more, and lack some that
// there are; neither has the files. They are told as far as they go, and nothing is
// gone on with.
func TestARecordOfAnOlderProgramOpensWithWhatItHas(t *testing.T) {
	for _, name := range []string{"written-2026-11-25.batch", "written-2026-11-26.batch"} {
		bytes, err := os.ReadFile(filepath.Join("testdata", name))
		if err != nil {
			t.Fatal(err)
		}
		storage := &record.Memory{Bytes: bytes}
		a, err := Read(storage)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		// 25 L and 4.1 kJ/K by 8 K with 3 kW take 290 s, and the loss hardly counts.
		if a.Profile != "Warm water" || a.Outcome != "complete" || !a.Simulated || a.Ticks < 400 || a.Damage != nil || len(a.Steps) != 1 {
			t.Fatalf("%s: %+v", name, a)
		}
		s := a.Steps[0]
		near(t, name+": reached", s.Reached, 290, 10)
		near(t, name+": counted", &s.Earned, 120, 0)
		near(t, name+": target", s.Target, 20, 0)
		near(t, name+": energy", &a.Energy.Joules, 290*3000, 40_000)
		if a.Planned != nil || a.Text != "" || a.Kettle.Power != 3000 || a.Kettle.Tuning != nil {
			t.Errorf("%s: %+v", name, a.Kettle)
		}
		r, err := record.Read(storage)
		if err != nil || r.Foreign() == nil {
			t.Fatalf("%s: %v, nothing foreign in it", name, err)
		}
		for what, err := range map[string]error{"a replay": replay(r), "a copy": record.Copy(&record.Memory{}, r, func(*record.Head) {})} {
			if err == nil || !strings.Contains(err.Error(), "read it with the version of the program that wrote it") {
				t.Errorf("%s: %s: %v", name, what, err)
			}
		}
		b := healthy()
		if c := Compare(&a, &b.Account); len(c.Steps) != len(b.Steps) || len(c.Changed) == 0 {
			t.Errorf("%s beside another: %d steps", name, len(c.Steps))
		}
	}
}

func replay(r *record.Reader) error {
	_, err := record.Replay(r)
	return err
}
