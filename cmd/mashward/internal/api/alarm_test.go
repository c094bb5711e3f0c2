package api

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/view"
)

type listedAlarms struct{ Alarms []view.Alarm }

// The four states of an alarm, as IEC 62682 names them: it stands or is over, and is
// acknowledged or not. The standard's text was not at hand; the states are from memory.
func TestAnAlarmStandsUntilItsCauseIsGoneAndIsToldUntilSomebodyHasSeenIt(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		b.run("warm")
		no(b, b.ask("POST", "alarms/seen", `{"up_to": 1}`), http.StatusNotFound, "no-such-alarm")
		blind := func(on bool) {
			b.pan.blind.Store(on)
			b.until("the alarm to change", func(s *daemon.Snapshot) bool { return (len(s.Standing()) > 0) == on })
		}
		look := func(standing, over int) State {
			t.Helper()
			s := b.state()
			if len(s.Alarms) != standing || len(s.AlarmsOver) != over {
				t.Errorf("%+v stand, %+v are over; want %d and %d", s.Alarms, s.AlarmsOver, standing, over)
			}
			return s
		}
		look(0, 0)
		blind(true)
		if a := look(1, 0).Alarms[0]; a.ID != "no-reading" || a.Number != 1 || a.Times != 1 || a.Raised == nil || a.Over != nil || a.Seen != nil {
			t.Errorf("%+v", a)
		}
		blind(false)
		if a := look(0, 1).AlarmsOver[0]; a.Number != 1 || a.Over == nil || a.Seen != nil {
			t.Errorf("%+v", a)
		}
		blind(true) // again before anybody looked: the same line
		if a := look(1, 0).Alarms[0]; a.Number != 1 || a.Times != 2 || a.Over != nil {
			t.Errorf("%+v", a)
		}
		heat := b.d.Latest().Decision.Mode
		b.post("alarms/seen", `{"up_to": 1}`, 200)
		if a := look(1, 0).Alarms[0]; a.Seen == nil || a.Over != nil {
			t.Errorf("%+v", a)
		}
		if b.d.Latest().Decision.Mode != heat {
			t.Error("a look at an alarm changed the batch")
		}
		blind(false)
		look(0, 0)
		blind(true) // a new one: it is told again
		if a := look(1, 0).Alarms[0]; a.Number != 2 || a.Seen != nil {
			t.Errorf("%+v", a)
		}
		all := into[listedAlarms](b, b.get("alarms")).Alarms
		if len(all) != 2 || all[0].Number != 2 || all[1].Number != 1 || all[1].Seen == nil || all[1].Over == nil {
			t.Errorf("%+v", all)
		}
	})
}

func TestAlarmsThatWereNotSeenAreRefused(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		for _, body := range []string{`{}`, `{"up_to": 0}`, `{"up_to": -1}`, `{"up_to": "1"}`} {
			no(b, b.ask("POST", "alarms/seen", body), http.StatusBadRequest, "bad-request")
		}
		no(b, b.ask("POST", "alarms/seen", `{"up_to": 1}`, "Content-Type: text/plain"), http.StatusUnsupportedMediaType, "not-json")
		no(b, b.ask("POST", "alarms/seen", strings.Repeat(" ", 70<<10)), http.StatusRequestEntityTooLarge, "too-large")
		b.run("warm")
		b.pan.blind.Store(true)
		b.until("an alarm", func(s *daemon.Snapshot) bool { return len(s.Alarms) > 0 })
		release := b.pan.hold()
		pass(2 * time.Second)
		no(b, b.ask("POST", "alarms/seen", `{"up_to": 1}`), http.StatusServiceUnavailable, "not-taken")
		release()
	})
}
