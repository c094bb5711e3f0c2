package api

import (
	"time"

	"mashward/cmd/internal/enzymes"
	"mashward/cmd/internal/late"
	"mashward/controller/record"
	"mashward/profile"
)

// Brief is a record in one line.
type Brief struct {
	ID        string  `json:"id"`
	Began     string  `json:"began"` // RFC 3339
	Profile   string  `json:"profile"`
	Simulated bool    `json:"simulated"`
	UnderWay  bool    `json:"under_way"`
	Outcome   string  `json:"outcome"` // complete, stopped, aborted, unfinished, unreadable
	Reason    string  `json:"reason"`
	Duration  float64 `json:"duration_seconds"`
	Switches  int     `json:"element_switches"`
}

func briefOf(id string, underWay bool, s *record.Summary) Brief {
	b := Brief{
		ID: id, Began: s.Head.Began, Profile: s.Head.Profile, Simulated: s.Head.Simulated, UnderWay: underWay,
		Outcome: "unfinished", Reason: s.Reason.String(), Duration: s.Duration.Seconds(), Switches: s.Switches,
	}
	if s.Ended {
		b.Outcome = s.Outcome.String()
	}
	return b
}

// Record is what happened in one batch.
type Record struct {
	Brief
	Program  string       `json:"program"`
	Text     string       `json:"profile_text"`
	Highest  *float64     `json:"highest_celsius"` // of the readings; null if there was none
	Ticks    uint64       `json:"ticks"`
	Lost     uint64       `json:"lost_ticks"`
	Torn     int64        `json:"torn_bytes"`
	Damage   *string      `json:"damage"` // why the rest cannot be read; null if all can
	Steps    []RecordStep `json:"steps"`
	Lines    []RecordLine `json:"lines"`
	LinesCut uint64       `json:"lines_left_out"`
	// Enzymes is an estimate over the recorded estimate of the mash; null: no grain.
	Enzymes *enzymes.Told `json:"enzymes"`
	// Late is how late it was; null: the record keeps no plan.
	Late *late.Told `json:"late"`
}

// RecordStep is one step as it ran; one that was repeated is there twice.
type RecordStep struct {
	Index   int      `json:"index"`
	Kind    string   `json:"kind"`
	Name    string   `json:"name"`
	Target  *float64 `json:"target_celsius"`
	Start   float64  `json:"start_seconds"`   // since arming
	Reached *float64 `json:"reached_seconds"` // since the start of the step
	End     *float64 `json:"end_seconds"`     // since arming
	Earned  float64  `json:"earned_seconds"`
}

// RecordLine is one thing that happened.
type RecordLine struct {
	At   float64 `json:"at_seconds"`
	Kind string  `json:"kind"`
	Text string  `json:"text"`
}

func recordOf(id string, underWay bool, s *record.Summary) Record {
	out := Record{
		Brief: briefOf(id, underWay, s), Program: s.Head.Program, Text: s.Head.ProfileText,
		Ticks: s.Ticks, Lost: s.Lost, Torn: s.Torn, LinesCut: s.Left, Steps: []RecordStep{}, Lines: []RecordLine{},
	}
	if s.Measured {
		highest := float64(s.Highest)
		out.Highest = &highest
	}
	if s.Damage != nil {
		text := s.Damage.Error()
		out.Damage = &text
	}
	for i := range s.Steps {
		out.Steps = append(out.Steps, stepOf(&s.Steps[i]))
	}
	for _, l := range s.Lines {
		out.Lines = append(out.Lines, RecordLine{l.At.Seconds(), lineKind(l.Kind), l.Text})
	}
	return out
}

func stepOf(s *record.StepSummary) RecordStep {
	out := RecordStep{
		Index: int(s.Index), Kind: s.Kind.String(), Name: s.Name, Start: s.Start.Seconds(),
		Reached: since(s.Reached), End: since(s.End), Earned: s.Earned.Seconds(),
	}
	if s.Kind != profile.Lift && s.Target != 0 {
		target := float64(s.Target)
		out.Target = &target
	}
	return out
}

// since is null where the record says "not" by a negative time.
func since(d time.Duration) *float64 {
	if d < 0 {
		return nil
	}
	seconds := d.Seconds()
	return &seconds
}

func lineKind(k record.LineKind) string {
	switch k {
	case record.LineEvent:
		return "event"
	case record.LineCommand:
		return "command"
	case record.LineCut:
		return "cut"
	case record.LineTrip:
		return "trip"
	case record.LineNote:
	}
	return "note"
}
