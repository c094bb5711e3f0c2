package picture

import (
	"math"
	"slices"
	"time"
)

// window is the part of the day that a look shows: the whole of it where it names none.
func (l Look) window(d Day) (from, to time.Duration) {
	if l.To > l.From {
		return l.From, l.To
	}
	return 0, d.end()
}

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
	d.Marks, d.Needed = marksWithin(d.Marks, in), marksWithin(d.Needed, in)
	var off []Span
	for _, s := range d.Off {
		if s.From < to && s.To > from {
			off = append(off, s)
		}
	}
	d.Off = off
	var left []Left
	for _, e := range d.Enzymes {
		if in(e.At) {
			left = append(left, e)
		}
	}
	d.Enzymes = left
	d.Running = d.Running && in(d.Now)
	return d
}

func overlapping(legs []Leg, from, to time.Duration) []Leg {
	var out []Leg
	for _, g := range legs {
		if g.Start < to && g.End > from || g.Start == g.End && g.Start >= from && g.Start < to {
			out = append(out, g)
		}
	}
	return out
}

func marksWithin(marks []Mark, in func(time.Duration) bool) []Mark {
	var out []Mark
	for _, m := range marks {
		if in(m.At) {
			out = append(out, m)
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
		return a.Temperature + (b.Temperature-a.Temperature)*float64(at-a.At)/float64(b.At-a.At)
	}
	return math.NaN()
}

// Left is what the enzymes of the mash had left at one moment, as shares of what came in
// with the malt: the least and the most that the sources allow.
type Left struct {
	At          time.Duration // since arming
	Beta, Alpha [2]float64
}

// enzymes are drawn as two bands between least and most, over a lane of their own.
func (c *chart) enzymes() {
	if len(c.d.Enzymes) == 0 {
		return
	}
	f, top, foot := c.f, c.bandTop, c.bandFoot
	c.box(f.left, top, f.right-f.left, foot-top, "mw-rail", "")
	c.text(f.left-6, top+f.letters*0.7, "mw-quiet", "end", "all")
	c.text(f.left-6, foot, "mw-quiet", "end", "none")
	c.band(func(e Left) [2]float64 { return e.Alpha }, "mw-alpha", "")
	c.band(func(e Left) [2]float64 { return e.Beta }, "mw-beta", c.l.ID+"-wu")
	x, anchor := c.beside(extent(alphaLeft, f.letters) + 10)
	c.text(x, top+f.letters, "mw-bold mw-halo", anchor, alphaLeft)
	c.text(x, foot-5, "mw-actualtext mw-bold mw-halo", anchor, betaLeft)
}

// What the bands are called.
const (
	alphaLeft = "alpha-amylase left"
	betaLeft  = "beta-amylase left"
)

// beside is where words of a width stand next to the bands: behind them, before them, or
// else over them.
func (c *chart) beside(width float64) (x float64, anchor string) {
	first, last := c.f.x(c.d.Enzymes[0].At), c.f.x(c.d.Enzymes[len(c.d.Enzymes)-1].At)
	switch {
	case last+5+width <= c.f.right:
		return last + 5, "start"
	case first-5-width >= c.f.left:
		return first - 5, "end"
	}
	return c.f.right - 5, "end"
}

func (c *chart) band(of func(Left) [2]float64, class, pattern string) {
	y := func(share float64) float64 {
		return c.bandFoot - min(max(share, 0), 1)*(c.bandFoot-c.bandTop)
	}
	var most, least []spot
	for _, e := range c.d.Enzymes {
		b := of(e)
		most, least = append(most, spot{c.f.x(e.At), y(b[1])}), append(least, spot{c.f.x(e.At), y(b[0])})
	}
	most, least = thin(most, c.f.column()), thin(least, c.f.column())
	c.put(`<polygon class="`, class, `"`)
	if pattern != "" {
		c.put(` fill="url(#`, pattern, `)"`)
	}
	c.put(` points="`)
	slices.Reverse(least)
	for _, p := range append(most, least...) {
		c.put(p.x, ",", p.y, " ")
	}
	c.put("\"/>\n")
}
