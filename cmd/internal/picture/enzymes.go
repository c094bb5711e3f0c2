package picture

import (
	"slices"
	"time"
)

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
