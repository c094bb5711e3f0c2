package api

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
	"mashward/controller/unit"
)

func TestSTOPIsOffWhateverComesWithIt(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		for _, ask := range []func() *httptest.ResponseRecorder{
			func() *httptest.ResponseRecorder { return b.ask("POST", "stop", "") },
			func() *httptest.ResponseRecorder { return b.ask("POST", "stop", "{}") },
			func() *httptest.ResponseRecorder { return b.ask("POST", "stop", `{"wish": nonsense`) },
			func() *httptest.ResponseRecorder { return b.ask("POST", "stop", "", "Content-Type: application/json") },
			func() *httptest.ResponseRecorder { return b.ask("POST", "stop", "{}", "Idempotency-Key: same") },
			func() *httptest.ResponseRecorder { return b.ask("POST", "stop", "{}", "Idempotency-Key: same") },
			func() *httptest.ResponseRecorder { return b.ask("POST", "stop", "{}", "Authorization: Bearer wrong") },
		} {
			b.run("warm")
			w := ask()
			if off := into[Off](b, w); w.Code != 200 || !off.Confirmed || !strings.Contains(off.Text, "still live") {
				b.Errorf("%d %+v", w.Code, off)
			}
			s := b.d.Latest()
			if s.Decision.Mode != controller.Held || s.Heating == unit.On || s.Decision.Pump == unit.On {
				b.Error(s.Decision.Mode)
			}
			b.post("command", `{"wish": "end"}`, 200)
		}
	})
}

func TestSTOPBySomethingThatAFormCanSendIsRefused(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		for _, kind := range []string{"application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "text/plain", "text/plain; application/json", "*/*", "application/json; charset=latin1"} {
			for _, path := range []string{"stop", "arm", "start", "go-on", "command", "what-if", "rehearsal"} {
				no(b, b.ask("POST", path, `{"wish": "pause"}`, "Content-Type: "+kind), http.StatusUnsupportedMediaType, "not-json")
			}
		}
		r := request("POST", Prefix+"stop", "x")
		r.Header.Del("Content-Type")
		w := httptest.NewRecorder()
		b.api.ServeHTTP(w, r)
		no(b, w, http.StatusUnsupportedMediaType, "not-json")
	})
}

func TestSTOPThatTheLoopDoesNotHearSaysSoWithinTwoSeconds(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		b.run("warm")
		release := b.pan.hold()
		pass(2 * time.Second)
		began := time.Now()
		w := b.ask("POST", "stop", "{}")
		if took := time.Since(began); took > 3*time.Second {
			b.Error(took)
		}
		if off := into[Off](b, w); w.Code != http.StatusAccepted || off.Confirmed || !strings.Contains(off.Text, "Isolate the element") {
			b.Errorf("%d %+v", w.Code, off)
		}
		release()
		b.until("held", func(s *daemon.Snapshot) bool { return s.Decision.Mode == controller.Held })
	})
}
