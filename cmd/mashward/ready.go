package main

import (
	"fmt"
	"time"

	"mashward/cmd/internal/say"
	"mashward/profile/plan"
)

// readyText says when strike water that is to be hot by a time of day has to be begun;
// "" for the zero time. The plan starts from what the tap gives; serve works it out anew
// from the kettle.
func readyText(p plan.Plan, ready time.Time) (string, error) {
	needs, margin := p.Lead()
	switch {
	case ready.IsZero():
		return "", nil
	case needs == 0:
		return "", usage("--ready: this profile has no mash-in, and so no strike water that waits for you")
	}
	l := say.Later{Heats: ready.Add(-needs - margin), Ready: ready, Latest: ready.Add(-needs), Needs: needs, Margin: margin, ByClock: true}
	return fmt.Sprintf("\nStrike water by %s\n%s\n", ready.Format("15:04"), l.Begin()), nil
}

// readyTime reads a time of day; the zero time is none.
func readyTime(text, format string, sheet bool) (time.Time, error) {
	switch {
	case text == "":
		return time.Time{}, nil
	case sheet || format != "text":
		return time.Time{}, usage("--ready: it goes with the plan as text; leave --sheet and --format out")
	}
	t, err := time.Parse("15:04", text)
	if err != nil {
		return time.Time{}, usage("--ready %s: write hours and minutes, as 08:30", text)
	}
	return t.AddDate(2000, 0, 0), nil // a year in which the day before exists
}
