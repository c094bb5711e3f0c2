package report

import (
	"math"
	"strings"
	"testing"
	"time"

	"mashward/cmd/internal/picture"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/sensors"
)

// The steps as the Diary saw them against those the judge of the rehearsal
// wrote down on its own.
func TestTheDiaryKeepsTheStepsAsTheyWent(t *testing.T) {
	for name, d := range days(t) {
		if len(d.Day.Went) != len(d.Result.Steps) {
			t.Fatalf("%s: %d steps kept, %d went", name, len(d.Day.Went), len(d.Result.Steps))
		}
		for i, s := range d.Result.Steps {
			g := d.Day.Went[i]
			if g.Index != s.Index || g.Kind != s.Kind || g.Start.Seconds() != s.Start || math.Abs(g.End.Seconds()-s.End) > 1 {
				t.Errorf("%s: kept %s from %s to %s, went from %g to %g s", name, g.Kind, g.Start, g.End, s.Start, s.End)
			}
		}
	}
}

// The heat in the picture against the energy that the plant's own meter shows.
func TestTheDiaryKeepsTheEnergy(t *testing.T) {
	for name, d := range days(t) {
		on := 0.0
		for i := 1; i < len(d.Day.Points); i++ {
			on += d.Day.Points[i].Duty * (d.Day.Points[i].At - d.Day.Points[i-1].At).Seconds()
		}
		if got := on * d.power; math.Abs(got-d.Result.Energy) > 0.01*d.Result.Energy {
			t.Errorf("%s: %.0f J kept, %.0f J went in", name, got, d.Result.Energy)
		}
	}
}

func TestTheDiaryKeepsATimeWithoutHeat(t *testing.T) {
	d := rehearsed(t, "rye-four-rests.yaml", "yard-kettle.yaml", faulty, 0)
	cut, held := false, false
	for _, s := range d.Day.Off {
		cut = cut || s.Text == "heat cut" && s.From <= minutesOf(60.5) && s.To >= minutesOf(60)
		held = held || s.Text == "held" && s.To-s.From > 59*time.Minute
	}
	if !cut || !held {
		t.Errorf("neither cut nor hold kept: %+v", d.Day.Off)
	}
	if good := rehearsed(t, "one-rest.yaml", "yard-kettle.yaml", "", 0); len(good.Day.Off) != 0 {
		t.Errorf("a good day was without heat: %+v", good.Day.Off)
	}
}

func minutesOf(m float64) time.Duration { return time.Duration(m * float64(time.Minute)) }

func TestEveryAdditionAndPromptIsMarked(t *testing.T) {
	d := rehearsed(t, "rye-four-rests.yaml", "yard-kettle.yaml", "", 0)
	var all []string
	for _, m := range d.Day.Marks {
		all = append(all, m.Kind.String()+" "+m.Text)
	}
	text := strings.Join(all, "\n")
	for _, want := range []string{
		"addition Add now: 28 g bittering hops.", "addition Add now: finings.", "you The strike water stands",
		"you The mash is done.", "you Take the lid off", "you Hang in the chiller", "note Finished",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("not marked: %q in\n%s", want, text)
		}
	}
}

// hand feeds a Diary by hand, a frame a second.
type hand struct {
	diary Diary
	now   time.Duration
	state controller.State
}

func (h *hand) tick(reading float64, change func(*loop.Frame)) {
	h.now += time.Second
	f := &loop.Frame{State: &h.state}
	f.Tick.Now = h.now
	f.Tick.Reading = sensors.Reading{Value: unit.Celsius(reading), Taken: h.now, Fault: sensors.None}
	f.Decision.Mode = controller.Running
	if change != nil {
		change(f)
	}
	h.diary.Watch(f)
}

func started(f *loop.Frame) {
	f.Decision.Events[0] = controller.Event{Kind: controller.BatchStarted}
	f.Decision.Events[1] = controller.Event{Kind: controller.StepStarted}
	f.Decision.Count = 2
}

func TestASpikeBetweenTwoPointsIsKept(t *testing.T) {
	var h hand
	h.tick(50, nil) // before arming: not of the day
	h.tick(50, started)
	for s := range 100 {
		reading := 50.0
		if s == 42 {
			reading = 70
		}
		h.tick(reading, nil)
	}
	highest := 0.0
	for _, p := range h.diary.points {
		highest = max(highest, p.Reading)
	}
	if highest != 70 || len(h.diary.points) > 30 {
		t.Errorf("highest %g in %d points", highest, len(h.diary.points))
	}
	if h.diary.points[0].At != 0 {
		t.Errorf("the day begins at %s", h.diary.points[0].At)
	}
}

func TestACutThatFluttersIsOneMarkThatCounts(t *testing.T) {
	var h hand
	h.tick(50, started)
	for s := range 60 {
		h.tick(50, func(f *loop.Frame) {
			if s%10 == 0 {
				f.Verdict.Cut = interlock.Implausible
			}
		})
	}
	if n := len(h.diary.marks); n != 1 {
		t.Fatalf("%d marks for one fluttering cut: %+v", n, h.diary.marks)
	}
	if m := h.diary.marks[0]; m.Kind != picture.Cut || !strings.Contains(m.Text, "Again 5 times, last at 0:00.") {
		t.Errorf("marked as %+v", m)
	}
	for range 11 * 60 {
		h.tick(50, nil)
	}
	h.tick(50, func(f *loop.Frame) { f.Verdict.Cut = interlock.Implausible })
	if n := len(h.diary.marks); n != 2 {
		t.Errorf("%d marks after a quiet time, want a second one", n)
	}
}

func TestTheDiaryIsBounded(t *testing.T) {
	var h hand
	h.tick(50, started)
	for s := range 60_000 {
		h.tick(float64(s%2)*40, func(f *loop.Frame) {
			f.Decision.Events[0] = controller.Event{Kind: controller.AlarmRaised}
			f.Decision.Count = 1
		})
	}
	d := h.diary.Day(rehearsed(t, "water-only.yaml", "yard-kettle.yaml", "", 0).Plan)
	if len(d.Points) > mostPoints || len(d.Marks) > mostMarks+1 {
		t.Errorf("%d points and %d marks", len(d.Points), len(d.Marks))
	}
	if last := d.Marks[len(d.Marks)-1].Text; !strings.Contains(last, "59800 moments more") {
		t.Errorf("nothing tells of the others: %q", last)
	}
}

func TestAMissingReadingIsNoNumberInTheDiary(t *testing.T) {
	var h hand
	h.tick(50, started)
	h.tick(0, func(f *loop.Frame) { f.Tick.Reading = sensors.Reading{} })
	last := h.diary.points[len(h.diary.points)-1]
	if !math.IsNaN(last.Reading) || !math.IsNaN(last.Estimate) {
		t.Errorf("kept as %+v", last)
	}
}
