package page

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"time"

	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/view"
	"mashward/controller"
	"mashward/profile"
)

// whatIf is where a change to the running batch is looked at before it is made.
type whatIf struct {
	base
	Batch, Told, Step string
	Finish            string // as forecast without a change; "" where it is not known
	Timed, Rests      []stepChoice
	CanSkip           bool
	Asked             *asked // nil: nothing has been asked yet
}

// stepChoice is a step that can be changed.
type stepChoice struct{ Index, Title string }

// asked is a change with what would come of it, and the fields that do it.
type asked struct {
	What, Button                    string
	Wish, Of, Minutes, Warm, Litres string
	Trouble                         string // why there is no answer; "" if there is one
	Outlook                         view.Outlook
	Enzymes                         []string
	Moments                         []string
}

func (s *site) whatIfForm(w http.ResponseWriter, r *http.Request) { s.showWhatIf(w, r, nil) }

func (s *site) showWhatIf(w http.ResponseWriter, r *http.Request, a *asked) {
	snap := s.o.Daemon.Latest()
	if !under(snap) {
		back(w, r, "/", "")
		return
	}
	v := view.Of(snap)
	m := whatIf{
		base: s.base(r, "What if"), Batch: v.Batch.ID, Told: strconv.FormatUint(uint64(v.Batch.Told), 10), Step: strconv.Itoa(v.Step.Index), Asked: a,
		CanSkip: slices.Contains(v.Can, controller.Skip.String()),
	}
	if v.Forecast != nil {
		m.Finish = v.Forecast.Text
	}
	c := &snap.Batch.Say.Config
	for i := max(snap.Decision.Index, c.First, 1); i < c.Count; i++ {
		one := stepChoice{strconv.Itoa(int(i)), fmt.Sprintf("%d: %s", i, snap.Batch.Say.Step(i))}
		switch c.Steps[i].Kind {
		case profile.Rest, profile.MashOut:
			m.Rests, m.Timed = append(m.Rests, one), append(m.Timed, one)
		case profile.MashIn, profile.Boil, profile.Stand:
			m.Timed = append(m.Timed, one)
		case profile.Strike, profile.Lift, profile.Chill:
		}
	}
	s.show(w, http.StatusOK, "whatif.html", m)
}

// whatIfAsk works out a change, or makes it where that is what was pressed.
func (s *site) whatIfAsk(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxForm)
	if err := r.ParseForm(); err != nil {
		back(w, r, "/", codeWhat)
		return
	}
	a, c := askedIn(r)
	snap := s.o.Daemon.Latest()
	switch {
	case c.Wish == controller.NoWish:
		back(w, r, "/", codeWhat)
		return
	case !stillThere(snap, r):
		back(w, r, "/", codeOld)
		return
	case r.PostForm.Get("do") != "":
		s.change(w, r, c)
		return
	}
	out, err := s.o.Daemon.WhatIf(r.Context(), c)
	if err != nil {
		a.Trouble = capital(err.Error())
	} else {
		a.Outlook = view.OutlookOf(&out, snap)
		a.Enzymes = a.Outlook.Enzymes.Lines()
		for _, m := range out.After.Moments {
			a.Moments = append(a.Moments, fmt.Sprintf("%s to %s: %s", view.Clock(snap)(m.Early), view.Clock(snap)(m.Late), m.What))
		}
	}
	s.showWhatIf(w, r, a)
}

// stillThere tells whether the kettle is as it was when the page was made.
func stillThere(snap *daemon.Snapshot, r *http.Request) bool {
	return under(snap) && snap.Batch != nil && snap.Batch.ID == r.PostForm.Get("batch") &&
		strconv.Itoa(int(snap.Decision.Index)) == r.PostForm.Get("step") &&
		strconv.FormatUint(uint64(snap.Decision.Deeds), 10) == r.PostForm.Get("told")
}

// change makes it: the second step.
func (s *site) change(w http.ResponseWriter, r *http.Request, c controller.Command) {
	ctx, cancel := context.WithTimeout(r.Context(), patience)
	defer cancel()
	reply, err := s.o.Daemon.Do(ctx, c)
	code := outcome(c.Wish, reply, err)
	if err == nil && reply.Accepted && c.Wish == controller.Extend {
		code = codeChanged // by another length than the page's button
	}
	back(w, r, "/", code)
}

// askedIn is the change that a form asks for; NoWish: none that it can.
func askedIn(r *http.Request) (*asked, controller.Command) {
	form := r.PostForm
	a := &asked{Wish: form.Get("wish"), Of: form.Get("of"), Minutes: form.Get("minutes"), Warm: form.Get("warm"), Litres: form.Get("litres"), Button: "Do it"}
	step, _ := strconv.ParseUint(a.Of, 10, 8)
	c := controller.Command{Step: uint8(step)}
	switch a.Wish {
	case controller.Extend.String():
		minutes, _ := number(a.Minutes)
		c.Wish, c.By = controller.Extend, time.Duration(min(max(minutes, -1000), 1000)*float64(time.Minute))
		how := "longer"
		if c.By < 0 {
			how = "shorter"
		}
		a.What = fmt.Sprintf("Step %s lasts %s %s", a.Of, say.Length(c.By.Abs()), how)
	case controller.Retarget.String():
		c.Wish, c.At = controller.Retarget, scaleOf(r).read(a.Warm)
		a.What = fmt.Sprintf("Step %s is at %s %s", a.Of, a.Warm, scaleOf(r).Sign())
	case controller.Skip.String():
		c.Wish, a.What = controller.Skip, "This step is skipped"
	case controller.Added.String():
		c.Wish, c.Volume, c.At = controller.Added, litres(a.Litres), scaleOf(r).read(a.Warm)
		a.What, a.Button = fmt.Sprintf("%s L at %s %s go in", a.Litres, a.Warm, scaleOf(r).Sign()), "It is in"
	}
	return a, c
}
