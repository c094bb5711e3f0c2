package page

import (
	"context"
	"net/http"
	"slices"
	"strconv"
	"time"

	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/view"
)

// alarmsPage is every alarm since the start, the newest first.
type alarmsPage struct {
	base
	All    []toldAlarm
	Unseen uint64 // up to which there is something to have seen; 0: nothing
}

// toldAlarm is one with what became of it, in words.
type toldAlarm struct {
	Text, Course  string
	Stands, Alone bool
}

func (s *site) alarms(w http.ResponseWriter, r *http.Request) {
	snap := s.o.Daemon.Latest()
	m := alarmsPage{base: s.base(r, "Alarms"), Unseen: unseen(view.Alarms(snap))}
	for _, a := range slices.Backward(snap.Alarms) {
		m.All = append(m.All, toldAlarm{m.Words(a.Text), course(&a, snap.Now), a.Stands(), a.Unseen()})
	}
	s.show(w, http.StatusOK, "alarms.html", m)
}

// course is when an alarm came, went and was seen.
func course(a *daemon.Alarm, now time.Duration) string {
	ago := func(at time.Duration) string { return say.Length(now-at) + " ago" }
	text := "It came " + ago(a.Raised)
	if a.Times > 1 {
		text = "It first came " + ago(a.Raised) + ", " + strconv.Itoa(a.Times) + " times in all"
	}
	if a.Stands() {
		text += ", and stands"
	} else {
		text += ", and went " + ago(a.Over)
	}
	if a.Unseen() {
		return text + ". Nobody has said that he has seen it."
	}
	return text + ". Seen " + ago(a.Seen) + "."
}

// unseen is the highest number of an alarm that nobody has seen; 0: none.
func unseen(lists ...[]view.Alarm) uint64 {
	highest := uint64(0)
	for _, a := range slices.Concat(lists...) {
		if a.Seen == nil {
			highest = max(highest, a.Number)
		}
	}
	return highest
}

// alarmsSeen takes a person's word for it, up to the newest alarm that his page showed.
func (s *site) alarmsSeen(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	upTo, err := strconv.ParseUint(r.PostFormValue("up-to"), 10, 64)
	if err != nil {
		back(w, r, "/", codeWhat)
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), patience)
	defer cancel()
	code := codeSeen
	if _, err := s.o.Daemon.SeenAlarms(ctx, upTo); err != nil {
		code = lost(err)
	}
	back(w, r, local(r.PostFormValue("here")), code)
}
