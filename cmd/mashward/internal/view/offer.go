package view

import (
	"math"
	"time"

	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller/interlock"
)

// Offer is a batch that was cut off, and what has to be known before it goes on.
type Offer struct {
	Stopped *string  `json:"stopped"`        // RFC 3339; null where no clock can be trusted
	Seconds *float64 `json:"outage_seconds"` // null where only the temperature tells, or nothing
	Least   *float64 `json:"least_seconds"`  // by the temperature
	Most    *float64 `json:"most_seconds"`
	Texts   []string `json:"texts"`
	Low     float64  `json:"least_litres"` // what may stand in the kettle now
	High    float64  `json:"most_litres"`
	CanGoOn bool     `json:"can_go_on"` // once the statements are made
}

func offer(s *daemon.Snapshot) *Offer {
	o := s.Offer
	if o == nil {
		return nil
	}
	told := say.Outage{
		Stopped: o.Stopped, Length: o.Length, Least: o.Cooled.Least, About: o.Cooled.About, Most: o.Cooled.Most,
		Weighed: o.Weighed, Cause: o.Cause,
	}
	out := &Offer{Texts: []string{told.Long(), told.Why()}, CanGoOn: !o.OtherRig && s.Trip == interlock.NoRule && !s.GaveUp}
	switch {
	case o.Known:
		at := o.Stopped.UTC().Format(time.RFC3339)
		out.Stopped, out.Seconds = &at, finite(o.Length.Seconds())
	case o.Cooled.Known:
		out.Least, out.Most = finite(o.Cooled.Least.Seconds()), finite(o.Cooled.Most.Seconds())
	}
	least, most := daemon.Holds(s)
	out.Low, out.High = tenth(least), tenth(most)
	if o.OtherRig {
		out.Texts = append(out.Texts, "The rig file is not the one it was armed with: put it back and start mashward again, or end the batch.")
	}
	if o.Alone != "" {
		out.Texts = append(out.Texts, "It does not go on by itself: "+o.Alone+".")
	}
	out.Texts = append(out.Texts, say.RCD, say.HotAfter)
	return out
}

func tenth(x float64) float64 { return math.Round(x*10) / 10 }
