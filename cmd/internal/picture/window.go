package picture

import (
	"math"
	"time"
)

// zoomed tells whether a look shows a part of the day.
func (l Look) zoomed() bool { return l.To > l.From }

// within is what of a day lies in a window. A step that reaches into it is there whole; a
// point on either side of it stays, so that a line comes in from the edge.
func (d Day) within(from, to time.Duration) Day {
	d.Went = overlapping(d.went(), from, to)
	d.Plan = overlapping(d.Plan, from, to)
	points := d.Points
	d.Points = nil
	for i, p := range points {
		in := p.At >= from && p.At <= to
		comes := i+1 < len(points) && p.At < from && points[i+1].At >= from
		goes := i > 0 && p.At > to && points[i-1].At <= to
		if in || comes || goes {
			d.Points = append(d.Points, p)
		}
	}
	in := func(at time.Duration) bool { return at >= from && at <= to }
	d.Marks = only(d.Marks, func(m Mark) bool { return in(m.At) })
	d.Needed = only(d.Needed, func(m Mark) bool { return in(m.At) })
	d.Off = only(d.Off, func(s Span) bool { return s.From < to && s.To > from })
	d.Enzymes = only(d.Enzymes, func(e Left) bool { return in(e.At) })
	d.Running = d.Running && in(d.Now)
	return d
}

func overlapping(legs []Leg, from, to time.Duration) []Leg {
	return only(legs, func(g Leg) bool {
		return g.Start < to && g.End > from || g.Start == g.End && g.Start >= from && g.Start < to
	})
}

// only are those of a list that are wanted; the list stays as it is.
func only[T any](all []T, wanted func(T) bool) (out []T) {
	for _, x := range all {
		if wanted(x) {
			out = append(out, x)
		}
	}
	return out
}

// course is the plan as moments and temperatures, in order of time.
func course(legs []Leg) []Bend {
	var run []Bend
	add := func(at time.Duration, celsius float64) {
		if known(celsius) {
			run = append(run, Bend{at, celsius})
		}
	}
	for _, g := range legs {
		there, _ := g.reached()
		add(g.Start, g.From)
		for _, b := range g.Bends {
			add(b.At, b.Temperature)
		}
		add(there, g.ends())
		add(g.End, g.ends())
	}
	return run
}

// Planned is the planned temperature at a moment, °C; NaN where there is none.
func (d Day) Planned(at time.Duration) float64 {
	run := course(d.Plan)
	for i := 1; i < len(run); i++ {
		a, b := run[i-1], run[i]
		if at < a.At || at > b.At {
			continue
		}
		if b.At == a.At {
			return b.Temperature
		}
		return between(a, b, at)
	}
	return math.NaN()
}

// between is the temperature at a moment on the way from one bend to a later one, °C.
func between(a, b Bend, at time.Duration) float64 {
	return a.Temperature + (b.Temperature-a.Temperature)*float64(at-a.At)/float64(b.At-a.At)
}
