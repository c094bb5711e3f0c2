package view

import (
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/cmd/internal/moments"
	"mashward/cmd/mashward/internal/daemon"
)

// Needed is when somebody has to be at the kettle.
type Needed struct {
	Made    string     `json:"made"`  // RFC 3339: of the tick it is seen from
	Batch   *string    `json:"batch"` // null: there is none
	Source  string     `json:"source"`
	Text    string     `json:"text"`       // for a reader, by the daemon's zone
	Free    *string    `json:"free_until"` // null: somebody is needed, or nobody any more
	Finish  *When      `json:"finish"`     // null: no batch is under way
	Moments []NeededAt `json:"moments"`    // in order
}

// When is an instant with its band.
type When struct {
	At    string `json:"at"` // RFC 3339
	Early string `json:"early"`
	Late  string `json:"late"`
	// The same on the batch clock, since arming.
	Seconds      float64 `json:"at_seconds"`
	EarlySeconds float64 `json:"early_seconds"`
	LateSeconds  float64 `json:"late_seconds"`
}

// NeededAt is one of the moments.
type NeededAt struct {
	ID string `json:"id"` // the same for the whole day
	When
	Step     int     `json:"step"`
	Of       string  `json:"of"`
	Title    string  `json:"title"`
	What     string  `json:"what"`
	Addition bool    `json:"addition"` // nothing waits for it
	Due      bool    `json:"due"`      // now
	Free     *string `json:"free_until"`
	Text     string  `json:"text"`
}

// From a plan every moment is as planned, and later by as much as the batch is late.
const (
	sourcePlan     = "plan"
	sourceForecast = "forecast"
)

// forecastOf is what is ahead of the batch and where that is from: worked out from its
// present state, or where that is not known, the plan; false: no batch is under way.
func forecastOf(s *daemon.Snapshot) (f ahead.Forecast, source string, ok bool) {
	if s.Batch == nil {
		return ahead.Forecast{}, sourcePlan, false
	}
	if s.Forecast != nil {
		return *s.Forecast, sourceForecast, !s.Decision.Mode.Ended()
	}
	late := time.Duration(0)
	if s.Late != nil {
		late = s.Late.Late
	}
	return moments.PlanAhead(s.Batch.Plan, &s.Decision, late), sourcePlan, !s.Decision.Mode.Ended()
}

// ListOf is when somebody has to be there, by the clock on the wall; ok is false where
// no batch is under way.
func ListOf(s *daemon.Snapshot) (l moments.List, ok bool) {
	f, _, ok := forecastOf(s)
	return moments.Of(f, s.Decision.Clock, s.Wall, s.Pace), ok
}

// CalendarDay is the batch as the calendar's book is told of it.
func CalendarDay(s *daemon.Snapshot) moments.Day {
	l, _ := ListOf(s)
	d := moments.Day{Rig: s.Rig, Name: s.Rig, Simulated: s.Simulated, Clock: s.Decision.Clock, List: l}
	if d.Name == "" {
		d.Name = "mashward"
	}
	if s.Batch != nil {
		d.Batch, d.Salt = s.Batch.ID, s.Batch.Hash
		if s.Batch.Profile.Name != "" {
			d.Name = s.Batch.Profile.Name
		}
	}
	return d
}

// NeededOf projects a snapshot.
func NeededOf(s *daemon.Snapshot) Needed {
	f, source, ok := forecastOf(s)
	l := moments.Of(f, s.Decision.Clock, s.Wall, s.Pace)
	out := Needed{Made: utc(l.Made), Source: source, Text: l.Words(), Moments: []NeededAt{}}
	if s.Batch != nil {
		out.Batch = &s.Batch.ID
	}
	if !ok {
		return out
	}
	out.Free = someUTC(l.Free)
	finish := when(l.Finish, f.Finish)
	out.Finish = &finish
	for i := range l.Entries {
		e := &l.Entries[i]
		out.Moments = append(out.Moments, NeededAt{
			ID: e.ID(), When: when(moments.Span{At: e.At, Early: e.Early, Late: e.Late}, e.Span),
			Step: int(e.Step), Of: e.Of, Title: moments.Title(&e.Moment), What: e.What, Addition: e.Addition, Due: l.Waits(e),
			Free: someUTC(e.Free), Text: e.Words(l.Made),
		})
	}
	return out
}

func when(wall moments.Span, s ahead.Span) When {
	return When{utc(wall.At), utc(wall.Early), utc(wall.Late), s.At.Seconds(), s.Early.Seconds(), s.Late.Seconds()}
}

// utc is an instant as RFC 3339 writes it.
func utc(t time.Time) string { return t.UTC().Format(time.RFC3339) }

// someUTC is the same; null is none.
func someUTC(t time.Time) *string {
	if t.IsZero() {
		return nil
	}
	text := utc(t)
	return &text
}
