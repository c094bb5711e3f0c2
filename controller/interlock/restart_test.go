package interlock

import (
	"bytes"
	"encoding/gob"
	"encoding/json"
	"testing"
	"time"

	"pgregory.net/rapid"

	"mashward/controller/unit"
	"mashward/deploy/explore"
)

func TestGuardSurvivesEncodingAndGoesOnEqually(t *testing.T) {
	explore.Check(t, explore.Size{Checks: 60, Night: *night}, func(t *rapid.T) {
		m := newMachine(t)
		actions := m.actions(true)
		actions[""] = func(t *rapid.T) {
			var viaJSON, viaGob Guard
			text, err := json.Marshal(m.g)
			if err == nil {
				err = json.Unmarshal(text, &viaJSON)
			}
			if err != nil || viaJSON != m.g {
				t.Fatalf("JSON: %v\n%+v\n%+v", err, m.g, viaJSON)
			}
			var wire bytes.Buffer
			if err := gob.NewEncoder(&wire).Encode(m.g); err != nil {
				t.Fatal(err)
			}
			if err := gob.NewDecoder(&wire).Decode(&viaGob); err != nil || viaGob != m.g {
				t.Fatalf("gob: %v\n%+v\n%+v", err, m.g, viaGob)
			}
		}
		t.Repeat(actions)
	})
}

func TestZeroGuardPermitsNothing(t *testing.T) {
	w := ready(t)
	for _, now := range []time.Duration{0, 1, time.Hour} {
		f := w.f
		f.Now, f.Reading.Taken = now, now
		if _, v := w.l.Step(Guard{}, f); v.Permitted != unit.Off {
			t.Errorf("at %v the zero Guard permits heat", now)
		}
	}
	f := w.f
	f.Now, f.Reading.Taken = -1, -1
	if g, v := w.l.Step(Guard{}, f); v.Permitted != unit.Off || g != (Guard{}) {
		t.Errorf("negative time: %+v, %+v", g, v)
	}
}

func TestHealthyStartHasNoCut(t *testing.T) {
	w := &walk{t: t, l: sampleLimits(), temp: 12}
	w.f = Facts{Wanted: unit.On, Armed: true, Heats: true}
	w.after(0) // the clock may begin at 0
	w.want(unit.Off, NoRule, NoRule)
	w.tick()
	w.want(unit.On, NoRule, NoRule)
}

func TestTripsSurviveARestart(t *testing.T) {
	for _, r := range Rules() {
		w := ready(t)
		w.g.Marks[r] = Mark{State: Tripped, Since: w.f.Now, Seen: w.f.Now}
		w.g, w.f.Now = w.g.Restarted(), 0
		w.run(time.Hour)
		w.want(unit.Off, NoRule, r)
		w.clear()
		w.want(unit.On, NoRule, NoRule)
	}
}

func TestRestartKeepsTheBalanceAndTheTimeUnderArming(t *testing.T) {
	w := boiling(t, 20)
	w.run(time.Hour)
	before := w.g
	w.g, w.f.Now = w.g.Restarted(), 0
	w.tick()
	w.want(unit.Off, NoRule, NoRule) // the first Step only takes the time
	w.tick()
	w.want(unit.On, NoRule, NoRule)
	if w.g.BoiledOff < before.BoiledOff || w.g.Declared != 20 || w.g.Armed < before.Armed {
		t.Errorf("after the restart %+v, before %+v", w.g, before)
	}
	if w.g.Marks != (Guard{}).Marks {
		t.Errorf("cuts were carried over: %+v", w.g.Marks)
	}
}
