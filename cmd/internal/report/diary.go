package report

import (
	"fmt"
	"math"
	"strings"
	"time"

	"mashward/cmd/internal/picture"
	"mashward/cmd/internal/say"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/plan"
)

const (
	// sampling is how often a point is kept when nothing else happens.
	sampling = 5 * time.Second
	// jump is a change of the reading that is kept at once, °C.
	jump = 0.5
	// mostMarks bounds the marks: an alarm may flutter for hours.
	mostMarks = 200
	// mostPoints bounds the points: 36 h at one in 5 s, and as many jumps.
	mostPoints = 50_000
)

// Diary keeps what a day's pictures need: a point every few seconds, the steps
// as they went, times without heat, and what happened in sentences. It is a
// loop.Watcher; Words must be filled in. It belongs to the loop's goroutine.
type Diary struct {
	Words say.Day

	begun   bool
	armed   time.Duration
	at      time.Duration // of this frame, since arming
	before  time.Duration // of the frame before
	points  []picture.Point
	on      int // ticks with the relay on since the last point
	ticks   int // ticks since the last point
	went    []picture.Leg
	open    bool // the last of went goes on
	off     []picture.Span
	marks   []picture.Mark
	missed  int // marks beyond mostMarks
	cut     interlock.Rule
	trip    interlock.Rule
	flutter flutter
}

// flutter is a cut that comes and goes: one mark tells of all its times.
type flutter struct {
	rule interlock.Rule
	mark int // index of its mark
	more int // times after the first
	last time.Duration
}

// calm is how long a cut must have stayed away to get a mark of its own again.
const calm = 10 * time.Minute

// Watch notes one frame.
func (d *Diary) Watch(f *loop.Frame) {
	for _, e := range f.Decision.Events[:f.Decision.Count] {
		if e.Kind == controller.BatchStarted && !d.begun {
			d.begun, d.armed = true, f.Tick.Now
		}
		if d.begun {
			d.at = f.Tick.Now - d.armed
			d.hear(e, f)
		}
	}
	if !d.begun || len(d.went) > 0 && !d.open && f.Decision.Mode.Ended() {
		return
	}
	d.at = f.Tick.Now - d.armed
	if d.open {
		d.went[len(d.went)-1].End = d.at
	}
	d.sample(f)
	d.judge(f)
	d.before = d.at
}

// hear follows the batch's own account of its day.
func (d *Diary) hear(e controller.Event, f *loop.Frame) {
	switch e.Kind {
	case controller.StepStarted:
		d.begin(e, f)
	case controller.StageChanged:
		if controller.Stage(e.Value) == controller.Settle && d.open {
			// The grain is in: from here the mash-in counts.
			l := &d.went[len(d.went)-1]
			l.Start, l.Reached = d.at, d.at
		}
	case controller.TargetReached:
		if l := len(d.went) - 1; d.open && l >= 0 && d.went[l].Reached < d.went[l].Start {
			d.went[l].Reached = d.at
		}
	case controller.StepEnded:
		d.end()
	case controller.ModeChanged:
		if controller.Mode(e.Value).Ended() {
			d.end()
		}
	}
	if kind, worth := markOf(e); worth {
		if text := d.Words.Sentence(e, f.Tick.Command); text != "" {
			d.mark(kind, text)
		}
	}
}

func (d *Diary) begin(e controller.Event, f *loop.Frame) {
	d.end()
	s := d.Words.Config.Steps[min(int(e.Step), len(d.Words.Config.Steps)-1)]
	name := ""
	if i := int(e.Step) - 1; i >= 0 && i < len(d.Words.Profile.Steps) {
		name = d.Words.Profile.Steps[i].Name
	}
	l := picture.Leg{
		Index: int(e.Step), Kind: s.Kind.String(), Title: picture.Title(s.Kind, name), Start: d.at, End: d.at,
		From: figure(f.Tick.Reading.Value, f.Tick.Reading.Good()), Target: math.NaN(), Ends: math.NaN(),
	}
	l = l.Never()
	if s.Kind != profile.Lift {
		l.Target = float64(s.Target)
	} else {
		l.Reached = d.at
	}
	d.went, d.open = append(d.went, l), true
}

func (d *Diary) end() {
	if d.open {
		d.went[len(d.went)-1].End, d.open = d.at, false
	}
}

// markOf tells which events are marked, and as what. Steps are drawn as such.
func markOf(e controller.Event) (picture.MarkKind, bool) {
	switch e.Kind {
	case controller.AdditionDue:
		return picture.Addition, true
	case controller.PromptRaised:
		return picture.Person, true
	case controller.AlarmRaised:
		return picture.Alarm, true
	case controller.ModeChanged:
		return picture.Note, controller.Mode(e.Value) != controller.Running
	case controller.AdditionIn, controller.BoilExtended, controller.ChillerScalds,
		controller.Accepted, controller.StrikeMoved, controller.ProbeDiffers, controller.GravityRead, controller.WaterUncounted:
		return picture.Note, true
	case controller.GrainSuspected, controller.ChillPlateau, controller.TimeGap, controller.SkipUndone,
		controller.WaterAdded, controller.WaterTaken, controller.VolumeRead, controller.HeatBarred, controller.LidMoved, controller.TargetChanged:
		return picture.Note, true
	}
	return picture.Note, false
}

func (d *Diary) mark(kind picture.MarkKind, text string) {
	if len(d.marks) >= mostMarks {
		d.missed++
		return
	}
	d.marks = append(d.marks, picture.Mark{At: d.at, Text: text, Kind: kind})
}

// sample keeps a point now and then, and at once where the reading jumps, goes
// or comes back. Between points the relay's time is summed up.
func (d *Diary) sample(f *loop.Frame) {
	d.ticks++
	if f.Tick.Applied == unit.On {
		d.on++
	}
	p := picture.Point{
		At: d.at, Reading: figure(f.Tick.Reading.Value, f.Tick.Reading.Good()),
		Estimate: figure(f.Decision.Estimate, f.Decision.HasEstimate), Target: figure(f.Decision.Target, f.Decision.HasTarget),
		Step: int(f.Decision.Index),
	}
	if n := len(d.points); n > 0 {
		last := d.points[n-1]
		changed := math.IsNaN(p.Reading) != math.IsNaN(last.Reading) || math.Abs(p.Reading-last.Reading) >= jump || p.Step != last.Step
		if n >= mostPoints || p.At <= last.At || !changed && p.At-last.At < sampling {
			return
		}
	}
	p.Duty = float64(d.on) / float64(d.ticks)
	d.on, d.ticks = 0, 0
	d.points = append(d.points, p)
}

func figure[T ~float64](v T, good bool) float64 {
	if !good {
		return math.NaN()
	}
	return float64(v)
}

// judge notes when heat is taken away and when it comes back.
func (d *Diary) judge(f *loop.Frame) {
	cut, trip := f.Verdict.Cut, f.Verdict.Trip
	if trip != d.trip && trip != interlock.NoRule {
		d.mark(picture.Trip, "Heat cut, and it stays off until a person has looked: "+Because(trip.String())+".")
	}
	if cut != d.cut && cut != interlock.NoRule && f.Decision.Mode.Heats() {
		d.markCut(cut)
	}
	d.cut, d.trip = cut, trip
	why := ""
	switch {
	case f.Decision.Mode == controller.Held:
		why = "held"
	case f.Decision.Mode == controller.Paused:
		why = "paused"
	case f.Decision.Mode.Heats() && (cut != interlock.NoRule || trip != interlock.NoRule):
		why = "heat cut"
	}
	n := len(d.off)
	if n > 0 && d.off[n-1].To == d.before && d.off[n-1].Text == why {
		d.off[n-1].To = d.at
	} else if why != "" {
		d.off = append(d.off, picture.Span{From: d.at, To: d.at, Text: why})
	}
}

func (d *Diary) markCut(rule interlock.Rule) {
	text := "Heat cut until that had passed: " + Because(rule.String()) + "."
	again := d.flutter.rule == rule && d.at-d.flutter.last <= calm && d.flutter.mark < len(d.marks)
	if !again {
		d.flutter = flutter{rule: rule, mark: len(d.marks), last: d.at}
		d.mark(picture.Cut, text)
		return
	}
	d.flutter.more++
	d.flutter.last = d.at
	d.marks[d.flutter.mark].Text = fmt.Sprintf("%s Again %s, last at %s.", text, say.Times(d.flutter.more), say.Clock(d.at))
}

// Day is the day so far, with its plan. The slices are the Diary's own: copy
// them before another goroutine reads them.
func (d *Diary) Day(p plan.Plan) picture.Day {
	marks := d.marks
	if d.missed > 0 {
		marks = append(marks[:len(marks):len(marks)], picture.Mark{
			At: d.at, Kind: picture.Note,
			Text: fmt.Sprintf("And %d moments more, which the record of the batch holds.", d.missed),
		})
	}
	return picture.Day{
		Name: strings.TrimSpace(p.Profile), Plan: picture.LegsOf(p), Went: d.went, Points: d.points, Marks: marks,
		Needed: picture.NeededOf(p), Off: d.off, Now: d.at,
	}
}
