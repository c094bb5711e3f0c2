package page

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/view"
	"mashward/profile/strict"
)

// armPage asks for the four statements.
type armPage struct {
	base
	ID, Name, Hash string
	Why            []string // it was refused
	Ask            say.Arming
	Cautions       []string
	Litres         string // as typed
	Bag, Valve     bool
	RCD            bool
	Resume         string
	HasStrike      bool // which may be armed for later
	Ready, ReadyIn string
	Broken         []string // by the last rehearsal
	Override       bool
}

// armForm shows the statements. They come empty: each is made anew for each
// batch.
func (s *site) armForm(w http.ResponseWriter, r *http.Request) {
	m, ok := s.armPage(w, r)
	if ok {
		s.show(w, http.StatusOK, "arm.html", m)
	}
}

// armPage is the form for a profile that may be armed; else it has answered.
func (s *site) armPage(w http.ResponseWriter, r *http.Request) (armPage, bool) {
	id := r.PathValue("id")
	b, faults, err := s.o.Daemon.Plan(id)
	switch {
	case errors.Is(err, daemon.ErrDisabled):
		back(w, r, "/profile/"+id, "")
		return armPage{}, false
	case err != nil:
		s.lost(w, r, err)
		return armPage{}, false
	case strict.Refused(faults):
		back(w, r, "/profile/"+id, "")
		return armPage{}, false
	}
	tried, _ := s.o.Daemon.Rehearsed(b.Hash)
	return armPage{base: s.base(r, "Arm"), Broken: daemon.BrokenBy(tried), ID: id, Name: b.Profile.Name, Hash: b.Hash, Ask: say.ToArm(), Cautions: b.Plan.Cautions, HasStrike: b.Plan.HasStrike}, true
}

// statements are what a form says that a person has seen.
func statements(form url.Values) daemon.Statements {
	yes := func(name string) bool { return form.Get(name) == "yes" }
	return daemon.Statements{Litres: float64(litres(form.Get("litres"))), BagClear: yes("bag"), ValveShut: yes("valve"), RCDTested: yes("rcd")}
}

// arm takes the statements: the first of two steps to heat.
func (s *site) arm(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	if err := r.ParseForm(); err != nil {
		back(w, r, "/", codeWhat)
		return
	}
	stated := statements(r.PostForm)
	stated.ResumeWithin = minutes(r.PostForm.Get("resume"))
	stated.Override = r.PostForm.Get("override") == "yes"
	err := readyWhen(&stated, r.PostForm, s.o.Now())
	nonce, b := "", (*daemon.Batch)(nil)
	if err == nil {
		nonce, b, err = s.o.Daemon.Arm(r.PathValue("id"), r.PostForm.Get("hash"), stated)
	}
	if err == nil {
		s.mu.Lock()
		s.armed = armed{nonce, b}
		s.mu.Unlock()
		back(w, r, "/confirm/"+nonce, "")
		return
	}
	m, ok := s.armPage(w, r)
	if !ok {
		return
	}
	m.Litres = strings.TrimSpace(r.PostForm.Get("litres"))
	m.Bag, m.Valve, m.RCD = stated.BagClear, stated.ValveShut, stated.RCDTested
	m.Ready, m.ReadyIn = strings.TrimSpace(r.PostForm.Get("ready")), strings.TrimSpace(r.PostForm.Get("ready-in"))
	m.Resume, m.Override = strings.TrimSpace(r.PostForm.Get("resume")), stated.Override
	m.Hash = r.PostForm.Get("hash") // what he has seen; a change since then stays refused
	m.Why = s.armRefusal(err)
	s.show(w, http.StatusUnprocessableEntity, "arm.html", m)
}

// minutes reads a length as people type it. Nothing is nothing; what is no
// number is refused by the daemon.
func minutes(text string) time.Duration {
	text = strings.TrimSpace(text)
	if text == "" {
		return 0
	}
	n, err := strconv.ParseUint(text, 10, 8)
	if err != nil {
		return -1
	}
	return time.Duration(n) * time.Minute
}

// armRefusal says why an arming was refused. Errors that are not the daemon's
// own are logged, not shown.
func (s *site) armRefusal(err error) []string {
	var unstated *daemon.Unstated
	var refused *daemon.Refusal
	var unkept *daemon.Unkept
	switch {
	case errors.As(err, &unstated):
		return []string{capital(unstated.What) + "."}
	case errors.As(err, &refused):
		return refusals(refused.Faults)
	case errors.As(err, &unkept):
		return []string{"The rehearsal broke what the profile expects, and it is not said below that you arm all the same."}
	}
	for _, known := range []error{daemon.ErrNotRehearsed, daemon.ErrChanged, daemon.ErrRunning, daemon.ErrWaiting, daemon.ErrTripped, daemon.ErrRelay, daemon.ErrDisabled} {
		if errors.Is(err, known) {
			return []string{capital(known.Error()) + "."}
		}
	}
	s.o.Log.Error("arming", "error", err)
	return []string{"It could not be armed."}
}

// confirmPage is the last look before heat.
type confirmPage struct {
	base
	Nonce                       string
	Name, Amounts, First, After string
	Later                       string // what will happen by itself; "": it heats at once
}

// armedBatch finds what an arming was for.
func (s *site) armedBatch(nonce string) *daemon.Batch {
	s.mu.Lock()
	defer s.mu.Unlock()
	if nonce == "" || nonce != s.armed.nonce {
		return nil
	}
	return s.armed.batch
}

func (s *site) confirm(w http.ResponseWriter, r *http.Request) {
	nonce := r.PathValue("nonce")
	b := s.armedBatch(nonce)
	if b == nil {
		back(w, r, "/", codeArmAgain)
		return
	}
	m := confirmPage{
		base: s.base(r, "Start heating?"), Nonce: nonce, Name: b.Profile.Name,
		Amounts: fmt.Sprintf("%.1f L of water", b.Profile.Water), After: say.Length(b.Plan.Finish),
	}
	m.Here = "/" // the address is good once
	if b.Later != nil {
		m.Later = view.SayLater(b.Later, 0).Ahead()
	}
	if b.Profile.Grain.Mass > 0 {
		m.Amounts = fmt.Sprintf("%.2f kg of grain in %s", b.Profile.Grain.Mass, m.Amounts)
	}
	if len(b.Profile.Steps) > 0 {
		m.First = m.Words(b.Say.Step(1))
		if length := b.Profile.Steps[0].For; length > 0 {
			m.First += ", " + say.Length(length)
		}
	}
	s.show(w, http.StatusOK, "confirm.html", m)
}

// begin is the second step: from here on there may be heat.
func (s *site) begin(w http.ResponseWriter, r *http.Request) {
	ctx, cancel := context.WithTimeout(r.Context(), patience)
	defer cancel()
	reply, err := s.o.Daemon.Begin(ctx, r.PathValue("nonce"))
	code := codeBegun
	switch {
	case err != nil:
		code = lost(err)
	case !reply.Accepted:
		code = noCode(reply.Why)
	case reply.Batch == "":
		code = codeWaits
	}
	back(w, r, "/", code)
}
