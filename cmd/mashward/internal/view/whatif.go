package view

import (
	"fmt"
	"math"
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile/enzyme"
)

// Outlook is what would come of a change. Nothing has been done.
type Outlook struct {
	Possible bool       `json:"possible"` // the controller would take it now
	Refusal  string     `json:"refusal"`  // why not; "" if it would
	Before   Course     `json:"before"`
	After    *Course    `json:"after"`         // null: it would not be taken
	Later    float64    `json:"later_seconds"` // by how much the finish moves; negative: sooner
	Risks    []RiskText `json:"risks"`
	Enzymes  *Mashes    `json:"enzymes"` // null: no grain is in and none will be, or not known
	Text     string     `json:"text"`
}

// Course is how the day would go on.
type Course struct {
	Finish  Span     `json:"finish"`
	Energy  float64  `json:"energy_joules"` // still to go in
	Moments []Moment `json:"moments"`       // with a person, in order
}

// RiskText is what a change could cost.
type RiskText struct {
	ID   string `json:"id"`
	Text string `json:"text"`
}

// Mashes is what the enzymes have left and have made when the grain comes out.
type Mashes struct {
	Note   string           `json:"note"` // must stand with every figure
	Before *enzyme.Estimate `json:"before"`
	After  *enzyme.Estimate `json:"after"`
}

// Lines are both in words; none where either is not known.
func (m *Mashes) Lines() []string {
	if m == nil || m.Before == nil || m.After == nil {
		return nil
	}
	share := func(b enzyme.Band) string {
		return fmt.Sprintf("%.0f %% (%.0f to %.0f)", 100*b.Mid, 100*b.Low, 100*b.High)
	}
	line := func(what string, before, after enzyme.Band) string {
		return fmt.Sprintf("%s: %s without, %s with it", what, share(before), share(after))
	}
	return []string{
		line("Starch made fermentable when the grain comes out", m.Before.Sugar, m.After.Sugar),
		line("Beta-amylase left", m.Before.BetaLeft, m.After.BetaLeft),
		m.Note,
	}
}

// OutlookOf puts it into that form.
func OutlookOf(o *ahead.Outlook, s *daemon.Snapshot) Outlook {
	out := Outlook{Possible: o.Refused == controller.NotRefused, Before: courseOf(&o.Before), Risks: []RiskText{}}
	if !out.Possible {
		out.Refusal = o.Refused.String()
		out.Text = "It would be refused: " + out.Refusal + "."
		return out
	}
	after := courseOf(&o.After)
	out.After, out.Later = &after, math.Round(o.Later.Seconds())
	for _, r := range o.Risks {
		out.Risks = append(out.Risks, RiskText{r.ID, r.Text})
	}
	if o.MashBefore != nil || o.MashAfter != nil {
		out.Enzymes = &Mashes{enzyme.Note, o.MashBefore, o.MashAfter}
	}
	out.Text = moved(o.Later) + ": " + Finish(o.After.Finish, Clock(s)) + ", " + energyMoved(o) + "."
	return out
}

func courseOf(f *ahead.Forecast) Course {
	c := Course{Finish: spanOf(f.Finish), Energy: math.Round(float64(f.Energy)), Moments: []Moment{}}
	for _, m := range f.Moments {
		c.Moments = append(c.Moments, momentOf(m))
	}
	return c
}

// moved is by how much the finish moves, in words.
func moved(by time.Duration) string {
	switch {
	case by >= 30*time.Second:
		return say.Length(by.Round(time.Minute)) + " later"
	case by <= -30*time.Second:
		return say.Length((-by).Round(time.Minute)) + " sooner"
	}
	return "No later and no sooner"
}

func energyMoved(o *ahead.Outlook) string {
	by := unit.Joules(o.After.Energy - o.Before.Energy).KilowattHours()
	switch {
	case by >= 0.01:
		return fmt.Sprintf("%.2f kWh more", by)
	case by <= -0.01:
		return fmt.Sprintf("%.2f kWh less", -by)
	}
	return "for the same energy"
}
