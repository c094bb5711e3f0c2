package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"
	"time"

	"mashward/cmd/internal/picture"
	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/view"
	"mashward/controller"
	"mashward/controller/interlock"
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

	real  bool        // the element is a real one
	lines bool        // plain lines instead of a picture
	lost  func(error) // ends the test: it cannot be shown any more; nil: it goes on
	line  string      // what stood in the last plain line, but for its figures
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
		Title: fmt.Sprintf(simulatedTitle+"Water test of %s, %.1f L", f.rig.Name, f.water),
		Goal:  math.NaN(),
		End:   "Ctrl-C ends it; the element goes off. Still live: do not reach in.",
	}
	return l
}

// errUnseen ends a test on a real element that nobody sees any more.
var errUnseen = errors.New("ended: it could not be shown any more, and nobody may be there")

// heats makes it the picture of a real element, and lets end end the test when
// it cannot be shown. Where a picture cannot be drawn, or is not wanted, lines
// go to where messages go.
func (l *live) heats(c *call, format string, end context.CancelCauseFunc) {
	l.real, l.picture.Heats = true, true
	l.picture.Title = strings.Replace(l.picture.Title, simulatedTitle, "THIS HEATS. ", 1)
	l.picture.End = "Ctrl-C ends it: heat and pump go off. Still live: isolate before reaching in."
	l.lost = func(err error) { end(fmt.Errorf("%w: %w", errUnseen, err)) }
	if l.lines = !c.colour || format != "text"; l.lines {
		l.out = c.err
	}
}

// simulatedTitle stands before the title of a simulated test.
const simulatedTitle = "SIMULATED, nothing is heated. "

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
	if l.real { // what it does from now on: a line that does not obey ends the test
		p.Duty = float64(f.Permitted)
		l.picture.Warning = warning(f)
	}
	if f.Tick.Reading.Good() {
		p.Reading = float64(f.Tick.Reading.Value)
	}
	l.picture.Points = append(l.picture.Points, p)
	if d.Mode.Heats() {
		l.follow(d)
	}
	if l.lines {
		l.tell(p)
		return
	}
	if now := l.now(); l.drawn.IsZero() || now.Sub(l.drawn) >= redraw {
		l.drawn = now
		l.draw()
	}
}

// warning is what a person near a real kettle has to mind now.
func warning(f *loop.Frame) string {
	said := ""
	if f.Decision.HasEstimate {
		said = hot(float64(f.Decision.Filtered))
	}
	switch {
	case f.State.PumpIn > 0:
		said += fmt.Sprintf("The pump STARTS in %.0f s. ", f.State.PumpIn.Seconds())
	case f.Decision.Pump == unit.On:
		said += "The pump runs. "
	}
	if f.Verdict.Cut != interlock.NoRule && f.Decision.Wanted == unit.On {
		said += "Heat is cut for a while: " + f.Verdict.Cut.String() + "."
	}
	return said
}

// hot is the word for what burns a hand that stays on it; "" below.
func hot(degree float64) string {
	if degree >= float64(view.HotFrom) {
		return fmt.Sprintf("HOT %.0f °C. ", degree)
	}
	return ""
}

// plainEvery is how often a plain line comes although nothing new is in it.
const plainEvery = 10 * time.Second

// tell writes a plain line when something has changed, and now and then.
func (l *live) tell(p picture.Point) {
	state := l.picture.State() + ", " + l.picture.Stage
	pump, _, _ := strings.Cut(l.picture.Warning, " in ") // its seconds are no news
	now := l.now()
	if state+pump == l.line && now.Sub(l.drawn) < plainEvery {
		return
	}
	l.line, l.drawn = state+pump, now
	reading := "no reading"
	if !math.IsNaN(p.Reading) {
		reading = fmt.Sprintf("%.1f °C", p.Reading)
	}
	l.write(fmt.Sprintf("%s  %s  %s. %s%s\n", say.Clock(p.At), reading, state, l.picture.Warning, l.picture.ToGo))
}

// write shows something. What cannot be shown is nobody's to see.
func (l *live) write(text string) {
	if _, err := io.WriteString(l.out, text); err != nil && l.lost != nil {
		l.lost(err)
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
	l.picture.End = capitalLive
	if l.picture.Warning = ""; l.real {
		l.picture.Warning = hot(last.Reading)
	}
	if l.lines {
		l.write(fmt.Sprintf("%s  %s. %s\n", say.Clock(last.At), how, l.picture.Warning+capitalLive))
		return
	}
	l.draw()
	l.write("\n")
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
	l.write(b.String()) // a terminal that has gone shows nothing; a simulated test goes on
}
