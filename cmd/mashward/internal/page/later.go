package page

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"time"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/view"
)

// readyWhen reads from a form by when, or in how long, the strike water is to be hot.
// Nothing is at once.
func readyWhen(s *daemon.Statements, form url.Values, now time.Time) error {
	at, in := strings.TrimSpace(form.Get("ready")), strings.TrimSpace(form.Get("ready-in"))
	if at != "" {
		t, ok := nextAt(at, now)
		if !ok {
			return &daemon.Unstated{What: fmt.Sprintf("%q is no time of day: write hours and minutes, as 08:30", at)}
		}
		s.ReadyAt = t
	}
	if in != "" {
		m, ok := number(in)
		if !ok || m <= 0 || m > 24*60 {
			return &daemon.Unstated{What: fmt.Sprintf("%q is no number of minutes: write in how many the water is to be hot", in)}
		}
		s.ReadyIn = time.Duration(m * float64(time.Minute))
	}
	return nil
}

// nextAt is the next moment at which a clock on the wall of the daemon's computer
// shows that time of day.
func nextAt(text string, now time.Time) (time.Time, bool) {
	t, err := time.Parse("15:04", text)
	if err != nil {
		return time.Time{}, false
	}
	on := func(days int) time.Time {
		return time.Date(now.Year(), now.Month(), now.Day()+days, t.Hour(), t.Minute(), 0, 0, now.Location())
	}
	if today := on(0); today.After(now) {
		return today, true
	}
	return on(1), true
}

// callOff ends what is armed for later.
func (s *site) callOff(w http.ResponseWriter, r *http.Request) {
	ctx, cancel := context.WithTimeout(r.Context(), patience)
	defer cancel()
	reply, err := s.o.Daemon.CallOff(ctx)
	code := codeCalledOff
	switch {
	case err != nil:
		code = lost(err)
	case !reply.Accepted:
		code = codeOld
	}
	back(w, r, "/", code)
}

// laterKey changes when the page has to be made anew, beside each minute that passes.
func laterKey(l *view.Later) string {
	switch {
	case l == nil:
		return ""
	case l.Waits:
		return "/waits"
	}
	return "/not-begun"
}
