// Package picture draws a brew day: the plan and how it went, over time, as
// SVG that stands in a page or alone as a file. It knows no clock, no file and
// no batch; whoever watches one fills in a Day.
//
// There are two pictures. Chart is temperature and heat over the day; Strip is
// the day as one strip, planned steps above and what became of them below.
// Both are drawn for one of two widths, so that their letters stay readable:
// narrow for a telephone held upright, wide for everything else.
//
// A third, WaterTest, is drawn with letters in a terminal.
//
// Nothing is told by colour alone: the plan is a broad dashed line and the
// actual temperature a thin solid one, ways to a target are hatched, marks have
// shapes and numbers, and Tale says the same in words.
package picture

import (
	"math"
	"time"
)

// Point is what was known at one moment. Temperatures are °C; NaN is unknown.
type Point struct {
	At       time.Duration // since arming
	Reading  float64       // of the probe
	Estimate float64       // of the mash
	Target   float64       // in force
	Duty     float64       // share of full power since the point before, 0 to 1
	Step     int           // index of the step
}

// Leg is one step on the clock, planned or gone through. Temperatures are °C;
// NaN where there is none.
type Leg struct {
	Index   int
	Kind    string // the trade's word: rest, lift, boil, ...
	Title   string // what to call it, without its temperature
	Start   time.Duration
	Reached time.Duration // at the target; before Start: never
	End     time.Duration
	From    float64
	Target  float64
	Ends    float64 // at End; NaN: at the target
	Bends   []Bend  // the way between Start and Reached, where it is not straight
}

// Bend is a point on the way to a target.
type Bend struct {
	At          time.Duration
	Temperature float64 // °C
}

// never is a Reached that says: it did not come to its target.
const never = -time.Hour

// Never makes a leg one that has not come to its target.
func (l Leg) Never() Leg {
	l.Reached = never
	return l
}

// MarkKind is what a mark stands for; each has a shape of its own.
type MarkKind uint8

// The kinds of marks, the gravest last: of several at one place it gives the
// shape.
const (
	Note MarkKind = iota
	Addition
	Person
	Alarm
	Cut
	Trip
)

var kindWords = [...]string{"note", "addition", "you", "alarm", "heat cut", "heat cut, latched"}

// String is the kind in a word or two, as it stands in the list of marks.
func (k MarkKind) String() string {
	if int(k) < len(kindWords) {
		return kindWords[k]
	}
	return "note"
}

// Mark is a moment worth a line of text.
type Mark struct {
	At   time.Duration // since arming
	Text string        // a full sentence
	Kind MarkKind
}

// Span is a time without heat: cut, held or paused.
type Span struct {
	From, To time.Duration // since arming
	Text     string        // why, in a word or two
}

// Day is all that is drawn.
type Day struct {
	Name      string // the profile's, as the brewer wrote it
	Simulated bool
	Plan      []Leg
	Went      []Leg   // empty: made from the points' steps
	Points    []Point // in order of time
	Marks     []Mark  // what happened, in order of time
	Needed    []Mark  // planned moments at which somebody is needed
	Off       []Span
	Enzymes   []Left // in order of time; empty: nothing is known
	// Running has a line drawn at Now.
	Running bool
	Now     time.Duration
	// HasClock adds the time of day to the axis; Armed is the time of day at
	// arming, from midnight.
	HasClock bool
	Armed    time.Duration
}

// Look is how it is drawn. The zero value is narrow, in °C, for a page that
// carries CSS.
type Look struct {
	Wide       bool
	Fahrenheit bool
	// From and To, since arming, are the part of the day that a Chart shows; 0 and 0 are
	// the whole of it.
	From, To time.Duration
	// ID begins every id in the picture; pictures in one page need different ones.
	ID string
	// Alone makes a file of its own: with its style, and the marks as a list.
	Alone bool
}

// units turns °C into what is shown.
func (l Look) units(celsius float64) float64 {
	if l.Fahrenheit {
		return celsius*9/5 + 32
	}
	return celsius
}

func (l Look) unit() string {
	if l.Fahrenheit {
		return "°F"
	}
	return "°C"
}

// known tells a figure from a gap.
func known(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// reached tells whether and when a leg came to its target.
func (l Leg) reached() (time.Duration, bool) {
	if l.Reached < l.Start {
		return l.End, false
	}
	return min(l.Reached, l.End), true
}

// ends is the temperature at the leg's end.
func (l Leg) ends() float64 {
	if known(l.Ends) {
		return l.Ends
	}
	return l.Target
}

// longest is the end of any scale: a brew day is over long before.
const longest = 7 * 24 * time.Hour

// End is the last moment of the day that is known or planned; at least some
// minutes, so that there is a scale.
func (d Day) End() time.Duration {
	end := 10 * time.Minute
	for _, l := range d.Plan {
		end = max(end, l.End)
	}
	for _, l := range d.went() {
		end = max(end, l.End)
	}
	for _, m := range d.Marks {
		end = max(end, m.At)
	}
	if n := len(d.Points); n > 0 {
		end = max(end, d.Points[n-1].At)
	}
	if d.Running {
		end = max(end, d.Now)
	}
	return min(end, longest)
}

// went is how the steps went: as told, else as the points' steps show it.
func (d Day) went() []Leg {
	if len(d.Went) > 0 || len(d.Points) == 0 {
		return d.Went
	}
	var legs []Leg
	for _, p := range d.Points {
		n := len(legs)
		if n == 0 || legs[n-1].Index != p.Step {
			l := Leg{Index: p.Step, Start: p.At, From: p.Reading, Target: math.NaN(), Ends: math.NaN()}
			for _, planned := range d.Plan {
				if planned.Index == p.Step {
					l.Kind, l.Title, l.Target = planned.Kind, planned.Title, planned.Target
				}
			}
			legs = append(legs, l.Never())
			n++
		}
		l := &legs[n-1]
		l.End = p.At
		if _, there := l.reached(); !there && math.Abs(p.Reading-l.Target) <= 0.3 {
			l.Reached = p.At
		}
	}
	return legs
}
