package page

import (
	"context"
	"errors"
	"net/http"
	"strings"

	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/view"
)

// goOnPage asks again for everything that arming asks, before a batch that was
// cut off goes on.
type goOnPage struct {
	base
	Batch, Name, Where string
	Texts              []string
	Why                []string // it was refused
	CanGoOn            bool
	Clear              string
	Litres             string // as typed
	Bag, Valve, RCD    bool
}

func (s *site) goOnForm(w http.ResponseWriter, r *http.Request) {
	if m, ok := s.goOnPage(w, r); ok {
		s.show(w, http.StatusOK, "goon.html", m)
	}
}

// goOnPage is the form where a batch is offered; else it has answered.
func (s *site) goOnPage(w http.ResponseWriter, r *http.Request) (goOnPage, bool) {
	snap := s.o.Daemon.Latest()
	v := view.Of(snap)
	if v.Offer == nil {
		back(w, r, "/", "")
		return goOnPage{}, false
	}
	m := goOnPage{base: s.base(r, "Go on?"), Batch: v.Batch.ID, Name: v.Batch.Profile, CanGoOn: v.Offer.CanGoOn, Clear: say.ToArm().Clear}
	m.Where = m.Words(v.Sentence)
	for _, text := range v.Offer.Texts {
		m.Texts = append(m.Texts, m.Words(text))
	}
	return m, true
}

// goOn takes the statements: from here on there may be heat.
func (s *site) goOn(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	if err := r.ParseForm(); err != nil {
		back(w, r, "/", codeWhat)
		return
	}
	stated := statements(r.PostForm)
	ctx, cancel := context.WithTimeout(r.Context(), patience)
	defer cancel()
	reply, err := s.o.Daemon.GoOn(ctx, r.PostForm.Get("batch"), stated)
	var unstated *daemon.Unstated
	switch {
	case errors.As(err, &unstated):
		m, ok := s.goOnPage(w, r)
		if !ok {
			return
		}
		m.Litres, m.Bag, m.Valve, m.RCD = strings.TrimSpace(r.PostForm.Get("litres")), stated.BagClear, stated.ValveShut, stated.RCDTested
		m.Why = []string{capital(unstated.What) + "."}
		s.show(w, http.StatusUnprocessableEntity, "goon.html", m)
	case err != nil:
		back(w, r, "/", lost(err))
	case !reply.Accepted:
		back(w, r, "/", noCode(reply.Why))
	default:
		back(w, r, "/", codeGoesOn)
	}
}
