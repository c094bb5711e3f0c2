package main

import (
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"
	"time"

	"mashward/cmd/internal/picture"
	"mashward/cmd/internal/say"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/tune"
	"mashward/controller/unit"
)

// live is the picture of a water test on a terminal, drawn over itself. It is a
// loop.Watcher; whether out is a terminal is for its maker to know.
type live struct {
	out     io.Writer
	now     func() time.Time // real time, for the pace of drawing alone
	columns int
	test    controller.WaterTest
	guess   unit.KelvinPerSecond // at full power, by what is declared

	picture picture.WaterTest
	stage   controller.Stage
	began   time.Duration // of the stage
	origin  float64       // °C when full power began
	pace    mark          // when the water had visibly warmed
	drawn   time.Time
	below   bool // the cursor stands below a picture
}

// mark is a moment of the test.
type mark struct {
	at     time.Duration
	degree float64 // °C
}

// redraw is how often the picture may be drawn: a test on the simulator takes a
// second.
const redraw = 100 * time.Millisecond

// visible is a rise that no noise makes, from which the pace is measured.
const visible = 1.0 // °C

// newLive prepares the picture of a test on the terminal of the call.
func newLive(c *call, f *found, known tune.Known) *live {
	l := &live{
		out: c.out, now: time.Now, columns: columns(os.Getenv("COLUMNS")), test: controller.DefaultTest(),
		guess: unit.KelvinPerSecond(float64(known.Power) / float64(known.Load)),
	}
	l.picture = picture.WaterTest{
		Title: fmt.Sprintf("SIMULATED, nothing is heated. Water test of %s, %.1f L", f.rig.Name, f.water),
		Goal:  math.NaN(),
		End:   "Ctrl-C ends it; the element goes off. Still live: do not reach in.",
	}
	return l
}

// columns is the width that the shell tells, or what terminals have had since
// punched cards.
func columns(told string) int {
	if n, err := strconv.Atoi(told); err == nil && n > 0 {
		return n
	}
	return 80
}

// Watch takes in one frame and draws now and then.
func (l *live) Watch(f *loop.Frame) {
	d := &f.Decision
	if d.Mode == controller.Idle {
		return
	}
	p := picture.Point{At: d.Clock, Reading: math.NaN(), Duty: float64(f.Tick.Applied)}
	if f.Tick.Reading.Good() {
		p.Reading = float64(f.Tick.Reading.Value)
	}
	l.picture.Points = append(l.picture.Points, p)
	if d.Mode.Heats() {
		l.follow(d)
	}
	if now := l.now(); l.drawn.IsZero() || now.Sub(l.drawn) >= redraw {
		l.drawn = now
		l.draw()
	}
}

// follow brings the words up to date.
func (l *live) follow(d *controller.Decision) {
	if d.Stage != l.stage {
		l.stage, l.began = d.Stage, d.Clock
		if d.Stage == controller.Push {
			l.origin = float64(d.Filtered)
			l.picture.Goal = l.origin + float64(l.test.Rise)
		}
	}
	degree := float64(d.Filtered)
	if l.stage == controller.Push && l.pace.at == 0 && degree >= l.origin+visible {
		l.pace = mark{d.Clock, degree}
	}
	rate := l.guess
	if since := (d.Clock - l.pace.at).Seconds(); l.pace.at > 0 && since > 0 && degree >= l.pace.degree+visible {
		rate = unit.KelvinPerSecond((degree - l.pace.degree) / since)
	}
	here, all := l.test.Ahead(l.stage, d.Clock-l.began, unit.Kelvin(degree-l.origin), rate)
	l.picture.Span = d.Clock + all
	l.picture.Stage, l.picture.ToGo = stageWords(l.stage), toGoWords(l.stage, here, all)
}

// stageWords is a stage of a water test as a person would say it.
func stageWords(s controller.Stage) string {
	switch s {
	case controller.Still:
		return "the water comes to rest (1 of 3)"
	case controller.Push:
		return "full power (2 of 3)"
	case controller.Quiet:
		return "left alone (3 of 3)"
	}
	return s.String()
}

// toGoWords says how long a test still takes, no more exactly than is known.
func toGoWords(s controller.Stage, here, all time.Duration) string {
	switch {
	case s == controller.Quiet:
		return "To go: " + say.Length(here) + "."
	case s == controller.Push:
		return fmt.Sprintf("To go: %s of full power, %s in all.", about(here), about(all))
	case here > 0:
		return fmt.Sprintf("To go: %s at least before full power, %s in all.", say.Length(here), about(all))
	}
	return fmt.Sprintf("To go: until the water rests; from then on %s.", about(all))
}

// about is a time of which only the minutes are believed.
func about(d time.Duration) string {
	if d < time.Minute {
		return "less than 1 min"
	}
	return "about " + say.Length(d.Round(time.Minute))
}

// finish draws the picture as it is left standing.
func (l *live) finish(how string) {
	if len(l.picture.Points) == 0 {
		return
	}
	last := &l.picture.Points[len(l.picture.Points)-1]
	l.picture.Span = last.At
	last.Duty = 0 // the loop has let go of the element
	l.picture.Stage = how
	l.picture.ToGo = "It took " + say.Length(last.At) + "."
	l.picture.End = "Not heating; still live: isolate before opening or reaching in."
	l.draw()
	fmt.Fprintln(l.out)
	l.below = false
}

// Control sequences of ECMA-48, and the private mode in which a terminal does
// not break lines that are too long: a narrow one then cuts the picture off
// instead of tearing it apart.
const (
	upRows   = "\x1b[%dA\r"
	toEnd    = "\x1b[K"
	below    = "\x1b[J"
	noBreaks = "\x1b[?7l"
	breaks   = "\x1b[?7h"
)

// draw writes the picture over the one before, in one write.
func (l *live) draw() {
	var b strings.Builder
	b.WriteString(noBreaks)
	if l.below {
		fmt.Fprintf(&b, upRows, picture.TerminalRows)
	}
	b.WriteString(strings.ReplaceAll(l.picture.Terminal(l.columns), "\n", toEnd+"\n"))
	b.WriteString(below + breaks)
	l.below = true
	io.WriteString(l.out, b.String()) // a terminal that has gone shows nothing; the test goes on
}
