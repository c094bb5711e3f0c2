package picture

import (
	"fmt"
	"math"
	"strings"
	"time"
	"unicode"
)

// WaterTest is a test of a kettle with water, as far as it has come, for a
// terminal: black on white or white on black, in letters alone.
type WaterTest struct {
	Title  string        // what is tested
	Points []Point       // At counts from the test's start; Target is not used
	Stage  string        // what happens now, in words
	Goal   float64       // °C at which full power ends, drawn dotted; NaN: not known yet
	Span   time.Duration // how long the whole test takes, as far as can be told
	ToGo   string        // how far and how long, a sentence
	End    string        // what ends it, a sentence

	Heats   bool   // the element is a real one, and its state is told as such
	Warning string // what to mind now, in the row below; "": nothing
}

// Shape of the picture in a terminal, in characters.
const (
	terminalLeast   = 40
	terminalMost    = 120
	terminalMargin  = 8  // left of the course
	terminalHeight  = 11 // odd, so that the middle has a row
	terminalBetween = 3  // points between two dots of the goal
)

// TerminalRows is how many rows Terminal draws, always.
const TerminalRows = 20

// Terminal draws the test in so many columns: TerminalRows lines, each ended,
// none longer than asked. What is wider or narrower than can be drawn is drawn
// at the nearest width.
func (w WaterTest) Terminal(columns int) string {
	columns = min(max(columns, terminalLeast), terminalMost)
	rows := []string{w.Title, w.now(), w.Warning}
	rows = append(rows, w.course(columns)...)
	rows = append(rows, "", w.ToGo, w.End)
	var b strings.Builder
	for _, row := range rows {
		b.WriteString(clip(row, columns))
		b.WriteByte('\n')
	}
	return b.String()
}

// clip cuts a row to so many characters. A name from a file may not steer the
// terminal.
func clip(row string, columns int) string {
	letters := []rune(strings.TrimRight(row, " "))
	for i, letter := range letters {
		if !unicode.IsPrint(letter) {
			letters[i] = '?'
		}
	}
	return string(letters[:min(len(letters), columns)])
}

// now is the last reading as a number, what happens, and the element.
func (w WaterTest) now() string {
	reading := "no reading"
	if n := len(w.Points); n > 0 && !math.IsNaN(w.Points[n-1].Reading) {
		reading = fmt.Sprintf("%.1f °C", w.Points[n-1].Reading)
	}
	return fmt.Sprintf("%10s   %s   %s", reading, w.State(), w.Stage)
}

// State is what the element does.
func (w WaterTest) State() string {
	n := len(w.Points)
	on := n > 0 && w.Points[n-1].Duty > 0
	switch {
	case w.Heats && on:
		return "HEATING"
	case w.Heats:
		return "not heating; still live"
	case on:
		return "element ON"
	}
	return "element off"
}

// course is the temperature over time, the element below it, and both axes.
func (w WaterTest) course(columns int) []string {
	wide := columns - terminalMargin
	span := w.span()
	low, high := w.scale()
	d := newDots(wide, terminalHeight)
	across, down := wide*dotsAcross-1, terminalHeight*dotsDown-1
	x := func(at time.Duration) int { return int(math.Round(at.Seconds() / span.Seconds() * float64(across))) }
	y := func(t float64) int {
		t = min(max(t, low), high)
		return down - int(math.Round((t-low)/(high-low)*float64(down)))
	}
	if !math.IsNaN(w.Goal) {
		for at := 0; at <= across; at += terminalBetween + 1 {
			d.set(at, y(w.Goal))
		}
	}
	for i, p := range w.Points {
		if math.IsNaN(p.Reading) {
			continue
		}
		from := p
		if i > 0 && !math.IsNaN(w.Points[i-1].Reading) {
			from = w.Points[i-1]
		}
		d.line(x(from.At), y(from.Reading), x(p.At), y(p.Reading))
	}
	var rows []string
	for r := range terminalHeight {
		rows = append(rows, temperatureLabel(r, low, high)+d.row(r))
	}
	rows = append(rows, "element "+w.element(wide, span))
	line, labels := timeAxisOf(wide, span)
	return append(rows, line, labels)
}

// span is the length of the time axis.
func (w WaterTest) span() time.Duration {
	span := max(w.Span, time.Minute)
	if n := len(w.Points); n > 0 {
		span = max(span, w.Points[n-1].At)
	}
	return span
}

// scale is the temperature axis: whole degrees with room for all there is, and
// never so narrow that noise fills the picture.
func (w WaterTest) scale() (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	see := func(t float64) {
		if t >= coldest && t <= hottest {
			low, high = min(low, t), max(high, t)
		}
	}
	see(w.Goal)
	for _, p := range w.Points {
		see(p.Reading)
	}
	if low > high {
		return 0, 100
	}
	low, high = math.Floor(low), math.Ceil(high)
	high = max(high, low+6)
	if math.Mod(high-low, 2) != 0 {
		high++ // the middle is a whole degree too
	}
	return low, high
}

// temperatureLabel is what stands left of a row: top, middle and bottom of the
// axis, in °C.
func temperatureLabel(row int, low, high float64) string {
	switch row {
	case 0:
		return fmt.Sprintf("%4.0f °C┤", high)
	case terminalHeight / 2:
		return fmt.Sprintf("%4.0f   ┤", (low+high)/2)
	case terminalHeight - 1:
		return fmt.Sprintf("%4.0f   ┤", low)
	}
	return strings.Repeat(" ", terminalMargin-1) + "│"
}

// element is a row that shows when the element was on: a block, where it was on
// at all, a dot where it was off, nothing where nothing has been yet.
func (w WaterTest) element(wide int, span time.Duration) string {
	row := []rune(strings.Repeat(" ", wide))
	for _, p := range w.Points {
		at := min(int(p.At.Seconds()/span.Seconds()*float64(wide)), wide-1)
		switch {
		case p.Duty > 0:
			row[at] = '█'
		case row[at] == ' ':
			row[at] = '·'
		}
	}
	return string(row)
}

// timeAxisOf is the axis in minutes and its labels.
func timeAxisOf(wide int, span time.Duration) (line, labels string) {
	const room = 8 // characters between two labels, at least
	step := time.Hour
	for _, minutes := range []time.Duration{1, 2, 5, 10, 20, 30} {
		if float64(minutes*time.Minute)/float64(span)*float64(wide) >= room {
			step = minutes * time.Minute
			break
		}
	}
	axis := []rune(strings.Repeat("─", wide))
	under := []rune(strings.Repeat(" ", wide+terminalMargin))
	for at := time.Duration(0); at <= span; at += step {
		x := min(int(at.Seconds()/span.Seconds()*float64(wide)), wide-1)
		axis[x] = '┬'
		label := fmt.Sprintf("%d", int(at/time.Minute))
		if at == 0 {
			label = "0 min"
		}
		if terminalMargin+x+len(label) > len(under) {
			continue // half a number is another number
		}
		copy(under[terminalMargin+x:], []rune(label))
	}
	return strings.Repeat(" ", terminalMargin-1) + "└" + string(axis), string(under)
}
