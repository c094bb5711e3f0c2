package page

import (
	"bytes"
	"net/http"
	"time"

	"mashward/cmd/internal/moments"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/view"
)

// needed is when somebody has to be at the kettle, by the daemon's clock. Each time of
// day stands in an element of its own.
type needed struct {
	Text  string // without a time of day
	Free  string // until when nobody is needed
	Stay  string // until when whoever is there stays
	Items []neededItem
}

type neededItem struct {
	When, ISO, Early, Late string // Early "": as sure as can be
	Title, What            string
	Free                   string
	First                  bool // and told in full
	Stay                   bool
	Due                    bool
}

// neededOf is the list; nil: no batch is under way.
func neededOf(snap *daemon.Snapshot, sc scale) *needed {
	l, ok := view.ListOf(snap)
	if !ok {
		return nil
	}
	n := &needed{Text: l.Words()}
	if !l.Free.IsZero() {
		n.Free = moments.Clock(l.Free, l.Made)
	}
	if l.Stays() {
		n.Stay = moments.Clock(l.Stay.Add(time.Minute-1), l.Made)
	}
	for i := range l.Entries {
		e := &l.Entries[i]
		item := neededItem{
			When: e.When(l.Made), ISO: e.At.UTC().Format(time.RFC3339), Title: sc.words(moments.Title(&e.Moment)), What: sc.words(e.What),
			First: i == 0, Stay: !e.Last && e.Free.IsZero(), Due: l.Waits(e),
		}
		if e.Band(l.Made) != "" {
			item.Early, item.Late = moments.Clock(e.Early, l.Made), moments.Clock(e.Late.Add(time.Minute-1), l.Made)
		}
		if !e.Free.IsZero() {
			item.Free = moments.Clock(e.Free, l.Made)
		}
		n.Items = append(n.Items, item)
	}
	return n
}

// needed is the list alone, for the script to put in place of the one it has.
func (s *site) needed(w http.ResponseWriter, r *http.Request) {
	var out bytes.Buffer
	if err := s.pages.ExecuteTemplate(&out, "needed", neededOf(s.o.Daemon.Latest(), scaleOf(r))); err != nil {
		s.o.Log.Error("page", "name", "needed", "error", err)
		http.Error(w, "The list could not be made.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, _ = w.Write(out.Bytes()) // whoever has gone needs no answer
}

// calendar is the same as a feed (RFC 5545), with the events that have been.
func (s *site) calendar(w http.ResponseWriter, _ *http.Request) {
	c := s.book.Calendar(view.CalendarDay(s.o.Daemon.Latest()))
	var out bytes.Buffer
	if err := c.Write(&out); err != nil {
		s.o.Log.Error("calendar", "error", err)
		http.Error(w, "The calendar could not be made.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/calendar; charset=utf-8")
	_, _ = w.Write(out.Bytes()) // whoever has gone needs no answer
}
