package page

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller/unit"
	"mashward/profile/plan"
	"mashward/profile/strict"
)

// dayPage is a profile of the folder as a plan, before anything is heated.
type dayPage struct {
	base
	ID, Name, Hash string
	File           string
	Refused        []string
	Warned         []string
	Broken         bool // the rig file is broken: no plan, no heat
	Under          bool // a batch is under way
	Lead           []string
	Parts          []part
	Pictures       *pictures
	Tried          *trial
	InWater        string // id of its water brew; "" where it has none
}

// part is one section of the plan's text.
type part struct {
	Title string
	Lines []planLine
}

// planLine is one paragraph of a section; When is the time or figure before
// it, if it is Timed.
type planLine struct {
	When, Text string
	Timed      bool
}

func (s *site) profile(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("id")
	b, faults, err := s.o.Daemon.Plan(id)
	if err != nil && !errors.Is(err, daemon.ErrDisabled) {
		s.lost(w, r, err)
		return
	}
	m := s.dayPage(r, id, b, faults, err)
	if b.Profile.Grain.Mass > 0 && m.Parts != nil {
		m.InWater = daemon.WaterBrewOf(id)
	}
	s.show(w, http.StatusOK, "plan.html", m)
}

// dayPage is what a profile makes on this rig; without a rig there is an error.
func (s *site) dayPage(r *http.Request, id string, b *daemon.Batch, faults []strict.Fault, err error) dayPage {
	snap := s.o.Daemon.Latest()
	m := dayPage{base: s.base(r, "Plan"), ID: id, Name: b.Profile.Name, Hash: b.Hash, File: b.File, Broken: err != nil, Under: under(snap)}
	for _, f := range faults {
		if f.Warning && !inPlan(f, b.Plan) {
			m.Warned = append(m.Warned, f.String())
		} else if !f.Warning {
			m.Refused = append(m.Refused, f.String())
		}
	}
	if m.Name == "" {
		m.Name = id
	}
	if len(m.Refused) == 0 && !m.Broken {
		if err := m.planned(b.Plan); err != nil {
			s.o.Log.Error("plan", "id", id, "error", err) // a buffer takes everything
		}
		m.Pictures = s.drawings(planned(b, snap.Simulated, m.Scale), m.Scale)
		m.Tried = s.tried(b, m.Scale)
	}
	return m
}

// inPlan tells whether the plan's own text says the same.
func inPlan(f strict.Fault, p plan.Plan) bool {
	return slices.ContainsFunc(p.Problems, func(x plan.Problem) bool { return x.What == f.What })
}

// lost answers for a profile that is not there or cannot be read.
func (s *site) lost(w http.ResponseWriter, r *http.Request, err error) {
	if errors.Is(err, daemon.ErrNoProfile) {
		s.refuse(w, r, http.StatusNotFound, "There is no such profile in the folder.")
		return
	}
	if text := madeRefusal(err); text != "" {
		s.refuse(w, r, http.StatusUnprocessableEntity, text)
		return
	}
	s.o.Log.Error("profile", "id", r.PathValue("id"), "error", err)
	s.refuse(w, r, http.StatusInternalServerError, "This profile cannot be read.")
}

// planned puts the plan's text into sections.
func (m *dayPage) planned(p plan.Plan) error {
	var text bytes.Buffer
	if err := plan.Text(&text, p); err != nil {
		return err
	}
	m.Lead, m.Parts = sections(text.String(), m.Scale)
	return nil
}

// planWidth is the width that the plan's text is broken at.
const planWidth = 78

// sections takes the plan's text apart: what stands before the first section,
// without the name, and the sections. Lines that were broken for their width
// are put together again, so that a telephone can break them anew.
func sections(text string, sc scale) (lead []string, parts []part) {
	for i, block := range strings.Split(strings.TrimSpace(text), "\n\n") {
		lines := unbroken(strings.Split(block, "\n"))
		if i <= 1 && !indented(lines, 1) {
			for _, l := range lines {
				lead = append(lead, sc.words(l))
			}
			continue
		}
		p := part{Title: sc.words(lines[0])}
		for _, l := range lines[1:] {
			p.Lines = append(p.Lines, lineOf(l, sc))
		}
		parts = append(parts, p)
	}
	if len(lead) > 0 {
		lead = lead[1:] // the name is the page's heading
	}
	return lead, parts
}

func indented(lines []string, i int) bool { return i < len(lines) && strings.HasPrefix(lines[i], " ") }

// unbroken joins a line to the one before where its first word would not have
// fitted there any more.
func unbroken(lines []string) []string {
	var out []string
	length := 0 // of the last line as it was written
	for _, l := range lines {
		n := utf8.RuneCountInString(l)
		if len(out) > 0 && length+1+utf8.RuneCountInString(firstWord(l)) > planWidth && !marked.MatchString(l) {
			out[len(out)-1] += " " + strings.TrimSpace(l)
		} else {
			out = append(out, l)
		}
		length = n
	}
	return out
}

// unitsOfPlan stay with the number before them.
var unitsOfPlan = []string{"°C", "L", "kg", "g", "min", "h", "s", "cm", "m", "kW", "kWh", "A", "%", "L/kg", "L/h"}

// firstWord is what a line begins with and could not have been broken.
func firstWord(line string) string {
	words := strings.Fields(line)
	if len(words) > 1 && strings.ContainsAny(words[0], "0123456789") && slices.Contains(unitsOfPlan, strings.TrimRight(words[1], ".,;:)")) {
		return words[0] + " " + words[1]
	}
	if len(words) == 0 {
		return ""
	}
	return words[0]
}

// marked are lines that begin with a time, with a term of the strike or with a
// term of the litres.
var marked = regexp.MustCompile(`^ +(\d+:\d\d|[+-]?\d+(?:\.\d+)? (?:°C|L))  +(.*)$`)

// lineOf tells a time or figure from the words behind it. In the strike's
// terms all but the first are differences, also those without a plus.
func lineOf(l string, sc scale) planLine {
	found := marked.FindStringSubmatch(l)
	if found == nil {
		// Eight spaces: at the same time as the line before.
		return planLine{Text: sc.words(strings.TrimSpace(l)), Timed: strings.HasPrefix(l, "        ")}
	}
	when := found[1]
	if number, ok := strings.CutSuffix(when, " °C"); ok && sc == fahrenheit {
		when = sc.turned(number, strings.HasPrefix(number, "+") || strings.HasPrefix(number, "-"))
	}
	return planLine{When: plainSign(when), Text: sc.words(found[2]), Timed: true}
}

// plainSign writes a minus as people do.
func plainSign(s string) string { return strings.Replace(s, "-", "−", 1) }

// trial is a rehearsal that was done.
type trial struct {
	Good    bool
	Verdict string
	Steps   []tried
	Trouble []string
	// What the profile expects, in its order, and whether any of it was broken.
	Promises []promise
	Unkept   bool
}

// promise is one thing that was expected and what came of it.
type promise struct {
	Kept bool
	Text string
}

// tried is one step of it, in words.
type tried struct{ Title, Planned, Went, Counted, Hot string }

func (s *site) rehearse(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("id")
	_, _, err := s.o.Daemon.Rehearse(id)
	var refused *daemon.Refusal
	switch {
	case errors.Is(err, daemon.ErrRehearsing):
		back(w, r, "/profile/"+id, codeRehearsing)
		return
	case errors.Is(err, daemon.ErrDisabled), errors.As(err, &refused):
		back(w, r, "/profile/"+id, "") // that page says why
		return
	case err != nil:
		s.lost(w, r, err)
		return
	}
	back(w, r, "/profile/"+id, "")
}

// tried is the last rehearsal of this very profile on this rig, nil if none.
func (s *site) tried(b *daemon.Batch, sc scale) *trial {
	result, ok := s.o.Daemon.Rehearsed(b.Hash)
	if !ok {
		return nil
	}
	t := &trial{Good: result.Outcome == "complete"}
	length := say.Length(time.Duration(result.Duration * float64(time.Second)))
	t.Verdict = fmt.Sprintf("It went through to the end in %s and put in %.1f kWh.", length, unit.Joules(result.Energy).KilowattHours())
	if !t.Good {
		t.Verdict = fmt.Sprintf("It did not go through: after %s it was %s (%s).", length, result.Outcome, result.Reason)
	}
	for _, step := range result.Steps {
		t.Steps = append(t.Steps, triedStep(b, step, sc))
	}
	for _, e := range result.Expectations {
		t.Promises = append(t.Promises, promise{e.Kept, sc.words(e.String())})
		t.Unkept = t.Unkept || !e.Kept
	}
	for _, x := range result.Trips {
		t.Trouble = append(t.Trouble, fmt.Sprintf("%s: heat was cut and stayed off, %s.", at(x.At), x.ID))
	}
	for _, x := range result.Cuts {
		t.Trouble = append(t.Trouble, fmt.Sprintf("%s: heat was cut for a while, %s.", at(x.From), x.ID))
	}
	for _, x := range result.Alarms {
		t.Trouble = append(t.Trouble, fmt.Sprintf("%s: alarm, %s.", at(x.Raised), x.ID))
	}
	return t
}

func at(seconds float64) string {
	return say.Clock(time.Duration(seconds * float64(time.Second)))
}

func triedStep(b *daemon.Batch, step rehearse.Step, sc scale) tried {
	length := func(seconds float64) string {
		return say.Length(time.Duration(seconds * float64(time.Second)))
	}
	t := tried{Title: capital(sc.words(b.Say.Step(uint8(step.Index))))}
	if step.PlannedHeat > 0 {
		t.Planned = length(step.PlannedHeat)
	}
	switch {
	case step.Reached != nil && *step.Reached == 0: // it began there
	case step.Reached != nil:
		t.Went = length(*step.Reached)
	case step.Target != nil:
		t.Went = "not reached"
	}
	if step.Earned > 0 {
		t.Counted = length(step.Earned)
	}
	if step.Overshoot != nil && !math.IsNaN(*step.Overshoot) {
		t.Hot = fmt.Sprintf("%.2f %s", sc.gap(*step.Overshoot), sc.Sign())
	}
	return t
}

func capital(text string) string {
	if text == "" {
		return ""
	}
	first, n := utf8.DecodeRuneInString(text)
	return strings.ToUpper(string(first)) + text[n:]
}

// refusals are the faults that forbid a profile, a line each.
func refusals(faults []strict.Fault) (lines []string) {
	for _, f := range faults {
		if !f.Warning {
			lines = append(lines, f.String())
		}
	}
	return lines
}
