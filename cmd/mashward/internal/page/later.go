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
func readyWhen(s *daemon.Statements, form url.Values, now time.Time) (err error) {
	if s.ReadyAt, err = typedTime(form.Get("ready"), "08:30", now); err != nil {
		return err
	}
	s.ReadyIn, err = typedMinutes(form.Get("ready-in"), "in how many the water is to be hot")
	return err
}

// typedTime reads a time of day as the next moment of that name; nothing is none.
func typedTime(text, example string, now time.Time) (time.Time, error) {
	if text = strings.TrimSpace(text); text == "" {
		return time.Time{}, nil
	}
	t, ok := nextAt(text, now)
	if !ok {
		return t, &daemon.Unstated{What: fmt.Sprintf("%q is no time of day: write hours and minutes, as %s", text, example)}
	}
	return t, nil
}

// aWeek is more than the daemon takes, which says so better: min.
const aWeek = 7 * 24 * 60

// typedMinutes reads a length; nothing is none. What is no length is refused, with what to write.
func typedMinutes(text, write string) (time.Duration, error) {
	if text = strings.TrimSpace(text); text == "" {
		return 0, nil
	}
	m, ok := number(text)
	if !ok || m <= 0 {
		return 0, &daemon.Unstated{What: fmt.Sprintf("%q is no number of minutes: write %s", text, write)}
	}
	return time.Duration(min(m, aWeek) * float64(time.Minute)), nil
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
