package page

import (
	"context"
	"net/http"
	"strings"
	"time"

	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/notify"
)

// notifications are who is told of what, how that went, and what a test brought back.
type notifications struct {
	base
	notify.State
	Tried []notify.Tried
	Seen  bool // something stands that is said again
}

// Tells is what a target is told, in a line.
func (n notifications) Tells(t notify.TargetState) string { return strings.Join(t.Tells, ", ") }

// Most is how often one thing is said at most.
func (n notifications) Most() int { return notify.MostTimes }

// For is how long something has stood.
func (n notifications) For(s notify.Standing) string {
	return say.Length(time.Duration(s.For) * time.Second)
}

func (s *site) notifications(w http.ResponseWriter, r *http.Request) {
	s.showNotifications(w, r, nil, "")
}

func (s *site) showNotifications(w http.ResponseWriter, r *http.Request, tried []notify.Tried, message string) {
	n := notifications{base: s.base(r, "Messages"), State: s.o.Notify.State(), Tried: tried}
	n.Here = "/notifications"
	for _, x := range n.Stands {
		n.Seen = n.Seen || !x.Seen
	}
	if message != "" {
		n.Message = message
	}
	s.show(w, http.StatusOK, "notifications.html", n)
}

// tryNotifications waits for what comes back: 8 s at most, in a request of its own.
func (s *site) tryNotifications(w http.ResponseWriter, r *http.Request) {
	tried, ok := s.o.Notify.Test(r.Context())
	if !ok {
		s.showNotifications(w, r, nil, "Another test is under way. Try again in a few seconds.")
		return
	}
	s.showNotifications(w, r, tried, "")
}

func (s *site) seenNotifications(w http.ResponseWriter, r *http.Request) {
	s.o.Notify.Seen()
	ctx, cancel := context.WithTimeout(r.Context(), patience)
	defer cancel()
	code := ""
	if err := s.o.Daemon.SeenAllAlarms(ctx); err != nil {
		code = lost(err)
	}
	back(w, r, "/notifications", code)
}
