package page

import (
	"errors"
	"net/http"
	"net/url"
	"strings"
	"time"

	"mashward/cmd/mashward/internal/daemon"
)

// byHand asks for water to be heated by hand.
type byHand struct {
	base
	Why                          []string
	Litres, Warm, Minutes, Until string // as typed
	Cleaning                     bool
}

func (s *site) byHandForm(w http.ResponseWriter, r *http.Request) {
	s.show(w, http.StatusOK, "byhand.html", byHand{base: s.base(r, "Water by hand")})
}

// byHand makes a profile of what was typed, and leads to its plan.
func (s *site) byHand(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	if err := r.ParseForm(); err != nil {
		back(w, r, "/", codeWhat)
		return
	}
	h, err := readByHand(r.PostForm, scaleOf(r), s.o.Now())
	id := ""
	if err == nil {
		id, err = s.o.Daemon.ByHandID(h)
	}
	if err == nil {
		back(w, r, "/profile/"+id, "")
		return
	}
	typed := func(name string) string { return strings.TrimSpace(r.PostForm.Get(name)) }
	s.show(w, http.StatusUnprocessableEntity, "byhand.html", byHand{
		base: s.base(r, "Water by hand"), Why: s.armRefusal(err), Litres: typed("litres"), Warm: typed("warm"),
		Minutes: typed("minutes"), Until: typed("until"), Cleaning: h.Cleaning,
	})
}

// readByHand reads the form. What is left out, or no number, is refused by the daemon.
func readByHand(form url.Values, sc scale, now time.Time) (h daemon.ByHand, err error) {
	h = daemon.ByHand{Litres: float64(litres(form.Get("litres"))), Target: sc.read(form.Get("warm")), Cleaning: form.Get("cleaning") == "yes"}
	if h.Hold, err = typedMinutes(form.Get("minutes"), "for how many it is to be kept"); err != nil {
		return h, err
	}
	h.Until, err = typedTime(form.Get("until"), "14:00", now)
	return h, err
}

// madeRefusal is an error of a profile that was made, as something to say; "" for others.
func madeRefusal(err error) string {
	var unstated *daemon.Unstated
	var refused *daemon.Refusal
	switch {
	case errors.As(err, &unstated):
		return capital(unstated.What) + "."
	case errors.As(err, &refused):
		return "The profile that it is made of cannot be run: " + strings.Join(refusals(refused.Faults), " ")
	}
	return ""
}
