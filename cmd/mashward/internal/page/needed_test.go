package page

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"mashward/controller"
	"mashward/profile"
)

// The first page has the list, and why the batch is late; the script fetches the list
// alone. Without a batch there is neither.
func TestThePageTellsWhenYouAreNeeded(t *testing.T) {
	b := newBench(t)
	_, now := b.get("/")
	lacks(t, now, "When you are needed", "pour the grain")
	if status, list := b.get("/needed"); status != http.StatusOK || strings.TrimSpace(list) != "" {
		t.Errorf("%d %q", status, list)
	}
	b.begin("rye-four-rests")
	b.stage(profile.Strike, controller.Heat)
	_, now = b.get("/")
	holds(t, now, "When you are needed", "pour the grain", "lift the grain", "28 g bittering hops", "then free until", `href="/calendar.ics"`, "Against the plan: ")
	_, list := b.get("/needed")
	if !strings.Contains(now, strings.TrimSpace(list)[:40]) || strings.Contains(list, "<html") {
		t.Errorf("%q", list)
	}
	lacks(t, list, "fill, look at valve")
}

// calendar is the feed with its folded lines put together.
func (b *bench) calendar() string {
	b.t.Helper()
	status, text := b.get("/calendar.ics")
	if status != http.StatusOK {
		b.t.Fatal(status)
	}
	return strings.ReplaceAll(text, "\r\n ", "")
}

// The feed is marked as simulated, its events are called off with the batch, and it
// stands behind the same wall as every page.
func TestTheCalendarFollowsTheBatch(t *testing.T) {
	b := newBench(t)
	holds(t, b.calendar(), "BEGIN:VCALENDAR\r\n", "BEGIN:VFREEBUSY\r\n", "REFRESH-INTERVAL;VALUE=DURATION:PT5M\r\n")
	b.begin("rye-four-rests")
	b.stage(profile.Strike, controller.Heat)
	feed := b.calendar()
	holds(t, feed, "SUMMARY:SIMULATED: pour the grain\r\n", "SUMMARY:SIMULATED: lift the grain\r\n", "STATUS:CONFIRMED\r\n", "NAME:SIMULATED: Rye\\, four rests\r\n",
		"UID:"+b.daemon.Latest().Batch.ID+"-5-lift-")
	lacks(t, feed, "STATUS:CANCELLED", "METHOD")
	b.press(controller.Command{Wish: controller.Stop})
	b.press(controller.Command{Wish: controller.End})
	feed = b.calendar()
	holds(t, feed, "STATUS:CANCELLED\r\n")
	lacks(t, feed, "STATUS:CONFIRMED")

	site := b.listen("")
	defer shut(site)
	for host, want := range map[string]int{"": http.StatusOK, "brewing.example": http.StatusMisdirectedRequest} {
		r, err := http.NewRequestWithContext(t.Context(), "GET", site.URL+"/calendar.ics", nil)
		if err != nil {
			t.Fatal(err)
		}
		if host != "" {
			r.Host = host
		}
		client := http.Client{Timeout: 30 * time.Second}
		answer, err := client.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		answer.Body.Close()
		if answer.StatusCode != want {
			t.Errorf("asked as %q: %d", host, answer.StatusCode)
		}
		if kind := answer.Header.Get("Content-Type"); want == http.StatusOK && (kind != "text/calendar; charset=utf-8" || answer.Header.Get("Cache-Control") != "no-store") {
			t.Error(kind, answer.Header)
		}
	}
}
