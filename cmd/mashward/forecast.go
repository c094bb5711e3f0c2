package main

import (
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/cmd/internal/rehearse"
	"mashward/controller/record"
)

// keepForecasts has a rehearsal forecast itself as a real batch is forecast, into its
// record. The simulated person pours at once.
func keepForecasts(run *rehearse.Run, into *record.Recorder) *ahead.Keeper {
	day := ahead.Day{Config: rehearse.Core(run.Profile, run.Plan), Plan: run.Plan, Pour: run.Delay}
	day.Config.Model = run.Model
	return &ahead.Keeper{Day: day, Keep: into.Forecast}
}

// clockOf writes an instant of a real batch as the time of day; of a simulated one
// as hours and minutes since arming, for its clock is not that of the wall, and so of
// one that was cut off, whose clock stood meanwhile.
func clockOf(s *record.Summary) func(time.Duration) string {
	armed, err := time.Parse(time.RFC3339, s.Head.Began)
	if err != nil || s.Head.Simulated || s.Restarts > 0 {
		return nil
	}
	return func(at time.Duration) string { return armed.Add(at).Local().Format("15:04") }
}

func forecastText(told *ahead.Told) string {
	if told == nil {
		return ""
	}
	return "\nHow the forecasts did\n" + told.Text + "\n"
}
