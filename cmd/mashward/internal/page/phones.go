package page

import (
	"errors"
	"fmt"
	"net/http"
	"strings"

	"mashward/cmd/mashward/internal/pairing"
	"mashward/cmd/mashward/internal/web"
)

// pairPage is what a stranger sees: how to pair, and STOP.
type pairPage struct {
	base
	Known bool   // paired already, or at the machine itself
	Why   string // it was refused
	Name  string // as typed
}

func (s *site) pairForm(w http.ResponseWriter, r *http.Request) {
	s.show(w, http.StatusOK, "pair.html", s.pairPage(r))
}

func (s *site) pairPage(r *http.Request) pairPage {
	stranger := pairing.Who(r.Context()).Stranger()
	m := pairPage{base: s.base(r, "Pair this phone"), Known: !stranger}
	if m.Stranger = stranger; stranger {
		m.Rig = "" // a stranger learns nothing of the kettle
	}
	return m
}

// pair takes the code that somebody brings, and gives his browser its token.
func (s *site) pair(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	m := s.pairPage(r)
	if err := r.ParseForm(); err != nil {
		m.Why = "That could not be read. Type the code once more."
		s.show(w, http.StatusBadRequest, "pair.html", m)
		return
	}
	m.Name = strings.TrimSpace(r.PostForm.Get("name"))
	_, token, err := s.o.Pairing.Pair(web.From(r), r.PostForm.Get("code"), m.Name)
	status := http.StatusInternalServerError
	switch {
	case err == nil:
		s.o.Pairing.Keep(w, r, token)
		back(w, r, "/", "")
		return
	case errors.Is(err, pairing.ErrTooMany):
		status = http.StatusTooManyRequests
	case errors.Is(err, pairing.ErrCode):
		status = http.StatusForbidden
	case errors.Is(err, pairing.ErrFull), errors.Is(err, pairing.ErrClosed):
		status = http.StatusConflict
	default:
		s.o.Log.Error("page", "error", err)
		err = errors.New("it could not be stored, so this phone is not paired: look at the disk of the machine that mashward runs on")
	}
	m.Why = capital(err.Error()) + "."
	s.show(w, status, "pair.html", m)
}

// phonesPage is the list of those who may come in.
type phonesPage struct {
	base
	Open, Here bool
	Phones     []phoneLine
	Lost       bool // the last change could not be stored
	Invited    *pairing.Invitation
	Link       string // the first of its links
	Others     []string
	Picture    picturedCode
}

type phoneLine struct {
	ID, Name, Since string
	Yours           bool
}

func (s *site) phonesPage(r *http.Request) phonesPage {
	who := pairing.Who(r.Context())
	m := phonesPage{base: s.base(r, "Phones"), Open: s.o.Pairing.Open(), Here: who.Here}
	for _, p := range s.o.Pairing.Phones() {
		m.Phones = append(m.Phones, phoneLine{p.ID, p.Name, p.Since.UTC().Format("2006-01-02"), who.Phone != nil && who.Phone.ID == p.ID})
	}
	return m
}

func (s *site) phones(w http.ResponseWriter, r *http.Request) {
	s.show(w, http.StatusOK, "phones.html", s.phonesPage(r))
}

// revoke takes a phone off the list. One that is off already is off.
func (s *site) revoke(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	err := s.o.Pairing.Revoke(r.PostFormValue("phone"))
	if err == nil || errors.Is(err, pairing.ErrNoPhone) {
		back(w, r, "/phones", "")
		return
	}
	s.o.Log.Error("page", "error", err)
	m := s.phonesPage(r)
	m.Lost = true
	s.show(w, http.StatusInternalServerError, "phones.html", m)
}

// invite shows a new code, to whoever sits at the machine itself. It stands in
// no address, so that nothing remembers it.
func (s *site) invite(w http.ResponseWriter, r *http.Request) {
	m := s.phonesPage(r)
	if !m.Here {
		s.refuse(w, r, http.StatusForbidden, capital(pairing.ErrNotHere.Error())+".")
		return
	}
	i, err := s.o.Pairing.Invite()
	if err != nil {
		s.refuse(w, r, http.StatusConflict, capital(err.Error())+".")
		return
	}
	m.Invited, m.Link, m.Others = &i, i.Links[0], i.Links[1:]
	if m.Picture, err = pictured(m.Link); err != nil {
		s.o.Log.Error("page", "error", err) // the link and the code are there without it
	}
	s.show(w, http.StatusOK, "phones.html", m)
}

// picturedCode is a QR code as the path of an SVG.
type picturedCode struct {
	Size int
	Path string
}

func pictured(text string) (picturedCode, error) {
	rows, err := pairing.Picture(text)
	if err != nil {
		return picturedCode{}, err
	}
	var path strings.Builder
	for y, row := range rows {
		for x, dark := range row {
			if dark {
				fmt.Fprintf(&path, "M%d %dh1v1h-1z", x, y)
			}
		}
	}
	return picturedCode{len(rows), path.String()}, nil
}
