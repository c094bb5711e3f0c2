package record

import (
	"fmt"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/unit"
	"mashward/profile"
)

// Summary is a record in brief. Times are since arming.
type Summary struct {
	Head Head

	Ticks    uint64
	Lost     uint64        // ticks that are not in it
	Duration time.Duration // since arming
	Ended    bool          // an end stands in it
	Outcome  controller.Mode
	Reason   controller.Reason
	Switches int // closings of the element's relay
	Highest  unit.Celsius
	Measured bool // Highest is a reading

	Steps    []StepSummary
	Lines    []Line // what was asked, and what happened, in order
	Left     uint64 // lines beyond MaxLines
	Restarts int    // how often it was gone on with
	Torn     int64  // bytes of an end that was not written whole
	Damage   *Damage
}

// StepSummary is one step as it ran. A step that was repeated is there twice.
type StepSummary struct {
	Index   uint8
	Kind    profile.Kind
	Name    string
	Target  unit.Celsius // what was aimed at last; 0 where nothing was
	Start   time.Duration
	Reached time.Duration // since Start; negative: not reached
	End     time.Duration // since arming; negative: not ended
	Earned  time.Duration
}

// Line is one thing that happened.
type Line struct {
	At   time.Duration
	Kind LineKind
	Text string
}

// LineKind is what kind of thing happened.
type LineKind uint8

// The kinds of lines.
const (
	LineEvent LineKind = iota
	LineCommand
	LineCut  // heat was cut, and came back by itself
	LineTrip // heat was cut until a person looked
	LineNote
)

// MaxLines bounds a summary, whatever a record holds.
const MaxLines = 5000

const maxStepRuns = 1000

// Summarize reads a record through, and shows each block to whoever else looks. A
// damaged one is summed up as far as it goes, and says so in Damage; the error is
// storage's own.
func Summarize(r *Reader, also ...func(*Block)) (Summary, error) {
	s := summing{Summary: Summary{Head: r.Head}}
	damage, err := r.Each(append(also, s.add)...)
	s.Damage, s.Torn = damage, r.Torn()
	return s.Summary, err
}

// summing is a summary under way.
type summing struct {
	Summary
	on   bool // the element's relay
	cut  interlock.Rule
	trip interlock.Rule
}

func (s *summing) add(b *Block) {
	switch b.Kind {
	case KindGap:
		s.Lost += b.Gap.Ticks
		s.line(LineNote, fmt.Sprintf("%d ticks were not recorded: storage did not take them", b.Gap.Ticks))
	case KindEnd:
		s.Ended, s.Outcome, s.Reason = true, b.End.Mode, b.End.Reason
	case KindNote:
		s.line(LineNote, b.Note)
	case KindStart:
		if s.Ticks > 0 {
			s.Restarts++
			s.line(LineNote, "gone on after a restart")
		}
	case KindTick:
		s.tick(&b.Tick)
	}
}

func (s *summing) tick(t *Tick) {
	s.Ticks++
	s.Duration, s.Outcome, s.Reason = max(s.Duration, t.Clock), t.Mode, t.Reason
	if t.In.Reading.Good() && (!s.Measured || t.In.Reading.Value > s.Highest) {
		s.Highest, s.Measured = t.In.Reading.Value, true
	}
	on := t.In.Applied == unit.On
	if on && !s.on {
		s.Switches++
	}
	s.on = on
	if c := commandWords(t.In.Command); c != "" {
		s.line(LineCommand, c)
	}
	s.verdict(t)
	for _, e := range t.Events {
		s.event(t, e)
	}
	if n := len(s.Steps); n > 0 && s.Steps[n-1].Index == t.Index && s.Steps[n-1].End < 0 {
		s.Steps[n-1].Earned = max(s.Steps[n-1].Earned, t.Earned)
		if t.HasTarget {
			s.Steps[n-1].Target = t.Target
		}
	}
}

// verdict notes when heat is cut, and when it comes back.
func (s *summing) verdict(t *Tick) {
	if t.Cut != s.cut {
		if s.cut = t.Cut; t.Cut == interlock.NoRule {
			s.line(LineCut, "no heat cut any more")
		} else {
			s.line(LineCut, "heat cut: "+t.Cut.String())
		}
	}
	if t.Trip != s.trip {
		if s.trip = t.Trip; t.Trip == interlock.NoRule {
			s.line(LineTrip, "heat cut cleared by a person")
		} else {
			s.line(LineTrip, "heat cut until a person looks: "+t.Trip.String())
		}
	}
}

// event notes the event, and what it says of its step.
func (s *summing) event(t *Tick, e controller.Event) {
	s.line(LineEvent, s.Head.eventWords(e))
	n := len(s.Steps)
	switch {
	case e.Kind == controller.SkipUndone && n > 1 && s.Steps[n-2].Index == e.Step:
		s.Steps = s.Steps[:n-1]
		s.Steps[n-2].End = -1
	case e.Kind == controller.StepStarted && n < maxStepRuns:
		step := StepSummary{Index: e.Step, Name: s.Head.stepName(int(e.Step), ""), Start: t.Clock, Reached: -1, End: -1}
		if int(e.Step) < len(s.Head.Config.Steps) {
			step.Kind = s.Head.Config.Steps[e.Step].Kind
		}
		s.Steps = append(s.Steps, step)
	case n == 0 || s.Steps[n-1].Index != e.Step:
	case e.Kind == controller.TargetReached && s.Steps[n-1].Reached < 0:
		s.Steps[n-1].Reached = t.Clock - s.Steps[n-1].Start
	case e.Kind == controller.StepEnded:
		s.Steps[n-1].End = t.Clock
		s.Steps[n-1].Earned = max(s.Steps[n-1].Earned, time.Duration(e.Value*float64(time.Second)))
	}
}

func (s *summing) line(kind LineKind, text string) {
	if len(s.Lines) >= MaxLines {
		s.Left++
		return
	}
	s.Lines = append(s.Lines, Line{At: s.Duration, Kind: kind, Text: text})
}
