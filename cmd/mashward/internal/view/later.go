package view

import (
	"time"

	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/daemon"
)

// Later is what was armed for later.
type Later struct {
	Profile  string    `json:"profile"` // its name; "" where only a run before this one knew it
	Text     string    `json:"text"`
	Waits    bool      `json:"waits"`      // it still does; else text says why it did not begin
	In       *float64  `json:"in_seconds"` // until it heats, by the run clock; null where it does not wait
	Schedule *Schedule `json:"schedule"`
}

// Schedule is when strike water that was armed for later is heated. Times of day are
// those of the arming's wall clock.
type Schedule struct {
	Ready   string  `json:"ready_at"` // RFC 3339
	Heats   string  `json:"heats_at"`
	Latest  string  `json:"latest_at"` // the last moment of a start from which it can still be hot in time
	Needs   float64 `json:"needs_seconds"`
	Margin  float64 `json:"margin_seconds"`
	ByClock bool    `json:"by_clock"` // false: it was said in how long, and no wall clock is asked
}

// ScheduleOf is that of a batch; nil where a person begins it.
func ScheduleOf(b *daemon.Batch) *Schedule {
	l := b.Later
	if l == nil {
		return nil
	}
	return &Schedule{utc(l.Ready), utc(l.Heats), utc(l.Latest), l.Needs.Seconds(), l.Margin.Seconds(), l.ByClock}
}

// SayLater is the same in words.
func SayLater(l *daemon.Later, in time.Duration) say.Later {
	return say.Later{Heats: l.Heats, Ready: l.Ready, Latest: l.Latest, Needs: l.Needs, Margin: l.Margin, In: in, ByClock: l.ByClock}
}

// later fills in what was armed for later.
func (v *State) later(s *daemon.Snapshot) {
	w := s.Waiting
	if w == nil {
		return
	}
	v.Later = &Later{Waits: w.Over == "", Text: say.NotBegun(w.Over)}
	if w.Batch != nil {
		v.Later.Profile, v.Later.Schedule = w.Batch.Profile.Name, ScheduleOf(w.Batch)
	}
	if w.Over == "" {
		v.Later.In, v.Later.Text = finite(w.In.Seconds()), SayLater(w.Batch.Later, w.In).Waits()
		v.Sentence, v.Next = v.Later.Text, ""
	}
	v.Can = append(v.Can, "end")
}
