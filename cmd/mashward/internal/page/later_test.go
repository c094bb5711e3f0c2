package page

import (
	"net/http"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // zones of the IANA database, also where the system has none

	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
	"mashward/controller/unit"
)

func TestStrikeWaterIsArmedForLaterFromThePageAndCalledOff(t *testing.T) {
	b := newBench(t)
	b.until("a reading", func(s *daemon.Snapshot) bool { return s.Number > 20 && s.Decision.HasEstimate })
	const at = "/profile/rye-four-rests"
	b.post(at + "/rehearse")
	_, form := b.get(at + "/arm")
	holds(t, form, `name="ready"`, `name="ready-in"`, "good for 12 h")
	said := []string{"hash", b.hash("rye-four-rests"), "litres", "26", "bag", "yes", "valve", "yes", "rcd", "yes"}
	for _, wrong := range [][]string{{"ready", "half past"}, {"ready-in", "soon"}, {"ready-in", "5"}, {"ready-in", "1400"}, {"ready-in", "5000"}} {
		status, _, body := b.post(at+"/arm", append(said, wrong...)...)
		if status != http.StatusUnprocessableEntity {
			t.Errorf("%v: %d", wrong, status)
		}
		holds(t, body, "Not armed", `value="`+wrong[1]+`"`)
	}
	status, to, body := b.post(at+"/arm", append(said, "ready-in", "300")...)
	if status != http.StatusSeeOther {
		t.Fatal(status, body)
	}
	_, confirm := b.get(to)
	holds(t, confirm, "It will heat by itself at", "Press by", "Nothing is heated at this press", "Let it heat by itself then")
	lacks(t, confirm, "Start heating<")
	if _, to, _ = b.post(to); to != "/?said="+codeWaits {
		t.Fatal(to)
	}
	_, now := b.get(to)
	holds(t, now, "Armed for later: Rye, four rests", "nothing is heated", `action="/call-off"`, "not heating; still live", "STOP calls it off too")
	if _, to, _ := b.post("/call-off"); to != "/?said="+codeCalledOff {
		t.Error(to)
	}
	_, now = b.get("/")
	lacks(t, now, "Armed for later", "/call-off")
	if _, to, _ := b.post("/call-off"); to != "/?said="+codeOld {
		t.Error(to)
	}
	if s := b.daemon.Latest(); s.Heating != unit.Off || s.Decision.Mode != controller.Idle {
		t.Error(s.Decision.Mode)
	}
}

// The next time that a clock shows so, over the end of summer time as well: 03:30 on
// 31 October 2027 comes once in Berlin, seven hours after 21:30, not six (IANA).
func TestATimeOfDayIsTheNextOne(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	now := time.Date(2027, 10, 30, 21, 30, 0, 0, berlin)
	for text, want := range map[string]time.Duration{"21:31": time.Minute, "21:30": 25 * time.Hour, "03:30": 7 * time.Hour, "9:00": 12*time.Hour + 30*time.Minute} {
		got, ok := nextAt(text, now)
		if !ok || got.Sub(now) != want {
			t.Errorf("%s: in %v, %v", text, got.Sub(now), ok)
		}
	}
	for _, text := range []string{"", "25:00", "8.30", "08:30:10", "noon"} {
		if got, ok := nextAt(strings.TrimSpace(text), now); ok {
			t.Errorf("%q is %v", text, got)
		}
	}
}
