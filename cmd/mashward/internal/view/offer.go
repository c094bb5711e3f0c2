package view

import (
	"fmt"
	"math"

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
		at := utc(o.Stopped)
		out.Stopped, out.Seconds = &at, finite(o.Length.Seconds())
	case o.Cooled.Known:
		out.Least, out.Most = finite(o.Cooled.Least.Seconds()), finite(o.Cooled.Most.Seconds())
	}
	least, most := daemon.Holds(s)
	out.Low, out.High = tenth(least), tenth(most)
	if o.OtherRig {
		out.Texts = append(out.Texts, fmt.Sprintf("The rig file is not the one it was armed with: it differs from line %d on. Put the old text back "+
			"(mashward record rig %s.batch, in the folder of records, prints it) and start mashward again, and it is offered anew; or end the batch.", o.RigLine, s.Batch.ID))
	}
	switch {
	case s.Trip != interlock.NoRule:
		out.Texts = append(out.Texts, "A heat cut is latched. Look for its cause and clear it, and it can go on; or end the batch.")
	case s.GaveUp:
		out.Texts = append(out.Texts, "A relay has been given up. Look for the cause and clear it, and it can go on; or end the batch.")
	}
	if o.Alone != "" {
		out.Texts = append(out.Texts, "It does not go on by itself: "+o.Alone+".")
	}
	out.Texts = append(out.Texts, say.RCD, say.HotAfter)
	return out
}

func tenth(x float64) float64 { return math.Round(x*10) / 10 }
