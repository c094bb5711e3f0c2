package api

import (
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// tuningText is a tuning of 25 L that heats by so many watts.
func tuningText(watts string) string {
	return "tuning: Test kettle\npower: " + watts + " W\nwater: 25 L\ncapacity: 108 kJ/K\nloss: 7 W/K\nlags: {element: 20 s, probe: 8 s, delay: 5 s, mixing: 60 s}\n"
}

func TestTheTuningBeforeIsBroughtBackWhereNoBatchIsUnderWay(t *testing.T) {
	inBubble(t, settings{tuning: "kettle.tuning.yaml"}, func(b *bench) {
		path := filepath.Join(b.folder, "kettle.tuning.yaml")
		put := func(name, text string) {
			t.Helper()
			if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		no(b, b.ask("POST", "tuning/restore", `{}`), http.StatusConflict, "no-tuning-before")
		put(path, tuningText("2900"))
		put(path+".before", "tuning: broken\n")
		no(b, b.ask("POST", "tuning/restore", `{}`), http.StatusConflict, "no-tuning-before")
		put(path+".before", tuningText("3100"))
		r := into[ShownRig](b, b.get("rig"))
		if r.Name != "Test kettle" || r.Tuning == nil || r.Tuning.Power != 2900 || r.Before == nil || r.Before.Power != 3100 {
			t.Errorf("%+v", r)
		}
		no(b, b.ask("POST", "tuning/restore", `{"what": 1}`), http.StatusBadRequest, "bad-request")
		no(b, b.ask("POST", "tuning/restore", `{}`, "Content-Type: text/plain"), http.StatusUnsupportedMediaType, "not-json")
		no(b, b.ask("POST", "tuning/restore", strings.Repeat(" ", 70<<10)), http.StatusRequestEntityTooLarge, "too-large")
		b.post("tuning/restore", `{}`, 200)
		if r = into[ShownRig](b, b.get("rig")); r.Tuning.Power != 3100 || r.Before.Power != 2900 {
			t.Errorf("%+v %+v", r.Tuning, r.Before)
		}
		b.run("warm")
		no(b, b.ask("POST", "tuning/restore", `{}`), http.StatusConflict, "batch-under-way")
		if text, err := os.ReadFile(path); err != nil || string(text) != tuningText("3100") {
			t.Errorf("%v %s", err, text)
		}
	})
}

func TestWithoutARigNoTuningIsBroughtBack(t *testing.T) {
	inBubble(t, settings{broken: true}, func(b *bench) {
		if r := into[ShownRig](b, b.get("rig")); r.Tuning != nil {
			t.Errorf("%+v", r)
		}
		no(b, b.ask("POST", "tuning/restore", `{}`), http.StatusServiceUnavailable, "heat-disabled")
	})
	inBubble(t, settings{}, func(b *bench) {
		no(b, b.ask("POST", "tuning/restore", `{}`), http.StatusConflict, "no-tuning-before")
	})
}
