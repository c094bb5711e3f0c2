package page

import (
	"bytes"
	"errors"
	"fmt"
	"net/http"
	"strings"

	"mashward/cmd/internal/config"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller/unit"
	"mashward/profile/gravity"
	"mashward/profile/plan"
	"mashward/profile/strict"
)

// maxText bounds the form of a profile's text: what the wall before every route lets in.
const maxText = 64 << 10

// draftName stands in the faults of a text that is in no folder.
const draftName = "this text"

// editPage is a profile's text, to be changed, looked at and saved as a new file.
type editPage struct {
	dayPage
	Text, As string
	Asked    bool // what it makes was asked for
	Faults   []lineFault
	Why      []string // it was not saved
	Changes  []string // by which it was scaled
}

// lineFault is one fault of a text, with the line that it stands in.
type lineFault struct {
	Line          int
	Excerpt, Text string
	Warning       bool
}

// profilesPage is every profile of the folder.
type profilesPage struct {
	base
	Profiles []daemon.Listed
	Refuse   string
}

func (s *site) profiles(w http.ResponseWriter, r *http.Request) {
	m := profilesPage{base: s.base(r, "Profiles")}
	list, err := s.o.Daemon.Profiles()
	if err != nil {
		m.Refuse = "The folder of profiles cannot be read."
	}
	m.Profiles = list
	s.show(w, http.StatusOK, "profiles.html", m)
}

// Bad tells whether a profile of a list cannot be run.
func (profilesPage) Bad(p daemon.Listed) bool { return strict.Refused(p.Faults) }

func (s *site) editForm(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("id")
	text, err := s.o.Daemon.Text(id)
	if err != nil {
		s.lost(w, r, err)
		return
	}
	s.show(w, http.StatusOK, "edit.html", s.edited(r, id, string(text), false))
}

// edited is the page for a text as it stands in the form.
func (s *site) edited(r *http.Request, id, text string, asked bool) editPage {
	m := editPage{Text: text, As: s.o.Daemon.FreeName(id), Asked: asked}
	b, faults, err := s.o.Daemon.Draft(draftName, []byte(text))
	m.dayPage = s.dayPage(r, id, b, faults, err)
	if !strings.HasPrefix(id, "~") { // of the folder
		m.File = id + ".yaml"
	}
	m.Title, m.Here = "Change a profile", "" // another scale would lose what was typed
	lines := strings.Split(text, "\n")
	for _, f := range faults {
		one := lineFault{Line: f.Line, Text: capital(unit.JoinRemedy(f.What, f.Remedy)), Warning: f.Warning}
		if f.Line >= 1 && f.Line <= len(lines) {
			one.Excerpt = strings.TrimSpace(lines[f.Line-1])
		}
		m.Faults = append(m.Faults, one)
	}
	return m
}

// edit looks at a text, rehearses it or saves it. Whatever becomes of it, what was typed
// stands in the form again.
func (s *site) edit(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("id")
	r.Body = http.MaxBytesReader(w, r.Body, maxText)
	if err := r.ParseForm(); err != nil {
		s.refuse(w, r, http.StatusRequestEntityTooLarge, "This text is too long to be changed here: change the file itself.")
		return
	}
	// A form sends its lines with a carriage return; files here have none.
	text, as := strings.ReplaceAll(r.PostForm.Get("text"), "\r\n", "\n"), strings.TrimSpace(r.PostForm.Get("as"))
	var err error
	switch r.PostForm.Get("do") {
	case "rehearse":
		_, _, err = s.o.Daemon.RehearseDraft(draftName, []byte(text))
	case "save":
		if err = s.o.Daemon.Save(as, []byte(text)); err == nil {
			back(w, r, "/profile/"+as, codeSaved)
			return
		}
	}
	m, status := s.edited(r, id, text, true), http.StatusOK
	if as != "" {
		m.As = as
	}
	if err != nil {
		m.Why, status = s.saveRefusal(err), http.StatusUnprocessableEntity
	}
	s.show(w, status, "edit.html", m)
}

// saveRefusal says why a text was not saved, or not rehearsed. Its faults stand on the page.
func (s *site) saveRefusal(err error) []string {
	var refused *daemon.Refusal
	if errors.As(err, &refused) {
		return []string{"It has the faults below."}
	}
	for _, known := range []error{daemon.ErrName, daemon.ErrExists, daemon.ErrFull, daemon.ErrFolder, daemon.ErrDisabled, daemon.ErrRehearsing} {
		if errors.Is(err, known) {
			return []string{capital(known.Error()) + "."}
		}
	}
	s.o.Log.Error("profile", "error", err)
	return []string{"It did not work."}
}

// scalePage asks for another size of a profile.
type scalePage struct {
	base
	ID, Name               string
	Why                    []string
	Litres, Gravity, Grain string // as typed
}

func (s *site) scaleForm(w http.ResponseWriter, r *http.Request) {
	s.scaleAsk(w, r, http.StatusOK, nil)
}

func (s *site) scaleAsk(w http.ResponseWriter, r *http.Request, status int, why []string) {
	id := r.PathValue("id")
	b, _, err := s.o.Daemon.Plan(id)
	if err != nil && !errors.Is(err, daemon.ErrDisabled) {
		s.lost(w, r, err)
		return
	}
	typed := func(name string) string { return strings.TrimSpace(r.PostFormValue(name)) }
	m := scalePage{base: s.base(r, "Another size"), ID: id, Name: b.Profile.Name, Why: why, Litres: typed("litres"), Gravity: typed("gravity"), Grain: typed("grain")}
	s.show(w, status, "scale.html", m)
}

// scaleTo works a profile out for another size, and shows its text to be changed and saved.
func (s *site) scaleTo(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	id := r.PathValue("id")
	b, faults, err := s.o.Daemon.Plan(id)
	switch {
	case err != nil:
		s.lost(w, r, err)
		return
	case strict.Refused(faults):
		back(w, r, "/profile/"+id, "")
		return
	}
	wish, why := wished(r)
	if why != "" {
		s.scaleAsk(w, r, http.StatusUnprocessableEntity, []string{why})
		return
	}
	rig, _ := s.o.Daemon.Rig()
	scaled, err := plan.Scale(b.Profile, rig.PlanKettle(), wish)
	if err != nil {
		s.scaleAsk(w, r, http.StatusUnprocessableEntity, []string{capital(err.Error()) + "."})
		return
	}
	body := config.ProfileText(scaled.Profile, &rig)
	made, _, err := s.o.Daemon.Draft(draftName, []byte(body))
	if err != nil {
		s.lost(w, r, err)
		return
	}
	m := s.edited(r, id, config.ScaledHead(scaled, made.Plan, rig.Name, id+".yaml")+body, true)
	for _, change := range scaled.Changes {
		m.Changes = append(m.Changes, m.Words(change))
	}
	if len(m.Refused) > 0 {
		if least, most := plan.Fitting(b.Profile, rig.PlanKettle(), wish.Gravity); most > 0 {
			m.Why = []string{fmt.Sprintf("This does not fit. On this kettle %s to %s in the fermenter do.", unit.FormatLitres(least), unit.FormatLitres(most))}
		}
	}
	s.show(w, http.StatusOK, "edit.html", m)
}

// wished reads what a profile is to come to; why says what is wrong with it.
func wished(r *http.Request) (w plan.Wish, why string) {
	w.Volume = litres(r.PostFormValue("litres"))
	if mass, ok := number(r.PostFormValue("grain")); ok && mass > 0 {
		w.Grain = unit.Kilograms(mass)
	}
	if text := strings.Replace(strings.TrimSpace(r.PostFormValue("gravity")), ",", ".", 1); text != "" {
		reading, err := gravity.Read(text)
		if err == nil && reading.Kind != gravity.Refractometer {
			w.Gravity, err = reading.Gravity()
		}
		if err != nil || w.Gravity == 0 {
			return w, "Write the original gravity as 1.050, or 12.4P."
		}
	}
	if w == (plan.Wish{}) {
		return w, "Say at least one: litres, gravity or grain, above zero."
	}
	return w, ""
}

// sheetPage is the brew sheet, to print.
type sheetPage struct {
	base
	ID, Name, Text string
}

func (s *site) sheet(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("id")
	b, faults, err := s.o.Daemon.Plan(id)
	switch {
	case errors.Is(err, daemon.ErrDisabled), err == nil && strict.Refused(faults):
		back(w, r, "/profile/"+id, "")
		return
	case err != nil:
		s.lost(w, r, err)
		return
	}
	var text bytes.Buffer
	if err := plan.Sheet(&text, b.Plan, plan.Heading{Rig: s.o.Daemon.Latest().Rig}); err != nil {
		s.lost(w, r, err)
		return
	}
	m := sheetPage{base: s.base(r, "Brew sheet"), ID: id, Name: b.Profile.Name, Text: strings.ReplaceAll(text.String(), "\f", "\n")}
	s.show(w, http.StatusOK, "sheet.html", m)
}
