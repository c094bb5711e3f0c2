package main

import (
	"testing"
	"time"

	"mashward/controller/record"
)

// The time of day is that of a real batch that ran through; else hours and minutes
// since arming are shown.
func TestForecastsAreToldByTheTimeOfDayWhereItIsKnown(t *testing.T) {
	real := record.Summary{Head: record.Head{Began: "2026-03-01T08:15:00Z"}}
	armed := time.Date(2026, 3, 1, 8, 15, 0, 0, time.UTC).Local()
	if got, want := clockOf(&real)(90*time.Minute), armed.Add(90*time.Minute).Format("15:04"); got != want {
		t.Errorf("%s, want %s", got, want)
	}
	simulated, cut, nameless := real, real, real
	simulated.Head.Simulated, cut.Restarts, nameless.Head.Began = true, 1, ""
	for name, s := range map[string]*record.Summary{"simulated": &simulated, "cut off": &cut, "no time": &nameless} {
		if clockOf(s) != nil {
			t.Errorf("%s: it has a time of day", name)
		}
	}
}
