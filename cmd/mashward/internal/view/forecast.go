package view

import (
	"fmt"
	"math"
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
)

// Forecast is how the batch is thought to go on, prompts answered at once. Instants
// are whole seconds since arming.
type Forecast struct {
	Made   float64 `json:"made_seconds"`
	Finish Span    `json:"finish"`
	Next   *Moment `json:"next"` // null: nobody is needed any more
	// The batch does not run: it is as if it went on now.
	IfNow      bool    `json:"if_it_went_on_now"`
	Energy     float64 `json:"energy_joules"` // still to go in
	EnergyLow  float64 `json:"energy_low_joules"`
	EnergyHigh float64 `json:"energy_high_joules"`
	Text       string  `json:"text"`
}

// Span is an instant and the band in which it lies in nine cases of ten.
type Span struct {
	At    float64 `json:"at_seconds"`
	Early float64 `json:"early_seconds"`
	Late  float64 `json:"late_seconds"`
}

// Moment is a time at which a person is needed.
type Moment struct {
	ID       string `json:"id"` // the same all day
	Step     int    `json:"step"`
	What     string `json:"what"`
	Addition bool   `json:"addition"` // nothing waits for it
	Span
}

// spanOf is a span in that form.
func spanOf(s ahead.Span) Span {
	seconds := func(d time.Duration) float64 { return math.Round(d.Seconds()) }
	return Span{seconds(s.At), seconds(s.Early), seconds(s.Late)}
}

// momentOf is a moment in that form.
func momentOf(m ahead.Moment) Moment {
	return Moment{ID: m.ID(), Step: int(m.Step), What: m.What, Addition: m.Addition, Span: spanOf(m.Span)}
}

// forecast is the snapshot's; nil where there is none.
func forecast(s *daemon.Snapshot) *Forecast {
	f := s.Forecast
	if f == nil {
		return nil
	}
	out := &Forecast{
		Made: math.Round(f.Made.Seconds()), Finish: spanOf(f.Finish), IfNow: s.Decision.Mode != controller.Running,
		Energy: math.Round(float64(f.Energy)), EnergyLow: math.Round(float64(f.EnergyLow)), EnergyHigh: math.Round(float64(f.EnergyHigh)),
		Text: Finish(f.Finish, Clock(s)),
	}
	if m, ok := f.Next(); ok {
		next := momentOf(m)
		out.Next = &next
	}
	return out
}

// Clock writes an instant since arming: as the time of day, or as hours and minutes
// since arming where the kettle is simulated, for it need not go at the pace of the
// wall.
func Clock(s *daemon.Snapshot) func(time.Duration) string {
	if s.Simulated {
		return say.Clock
	}
	return func(at time.Duration) string { return s.Wall.Add(at - s.Decision.Clock).Format("15:04") }
}

// Finish is when it is all over, as part of a sentence.
func Finish(s ahead.Span, clock func(time.Duration) string) string {
	return fmt.Sprintf("finish about %s (%s to %s)", clock(s.At), clock(s.Early), clock(s.Late))
}
