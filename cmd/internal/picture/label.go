package picture

import "math"

// labels names the plan's and the actual line where they run apart, each on
// the side away from the other. Where they run together the key has to do.
func (c *chart) labels(plan, actual trace) {
	p, a := c.heights(plan), c.heights(actual)
	c.label("plan", "mw-quiet", p, a)
	c.label(c.soFar(), "mw-actualtext", a, p)
}

// heights is a trace's y for each whole x; not a number where it has none.
func (c *chart) heights(t trace) []float64 {
	out := make([]float64, int(c.f.width))
	for i := range out {
		out[i] = math.NaN()
	}
	for _, run := range t {
		for i := 1; i < len(run); i++ {
			from, to := run[i-1], run[i]
			for x := int(math.Ceil(from.x)); x <= int(to.x) && x < len(out); x++ {
				share := 0.0
				if to.x > from.x {
					share = (float64(x) - from.x) / (to.x - from.x)
				}
				out[x] = from.y + share*(to.y-from.y)
			}
		}
	}
	return out
}

// label writes a name at the place where its line is flattest and the other
// one is far enough away.
func (c *chart) label(name, class string, own, other []float64) {
	const apart, flat = 24, 16
	half := int(extent(name, c.f.letters)/2) + 3
	best, at, above := math.Inf(1), 0, false
	for x := int(c.f.left) + half; x+half < int(c.f.right); x += 2 {
		low, high := math.Inf(1), math.Inf(-1)
		near, over, under := math.Inf(1), true, true
		for i := x - half; i <= x+half; i++ {
			low, high = math.Min(low, own[i]), math.Max(high, own[i])
			near = math.Min(near, math.Abs(own[i]-other[i]))
			over, under = over && own[i] < other[i], under && own[i] > other[i]
		}
		fits := over && low-c.f.letters-8 > c.t.top || under && high+c.f.letters+8 < c.t.bottom
		// Comparisons with what is not a number are false: no line, no label.
		if fits && near >= apart && high-low <= flat && high-low < best {
			best, at, above = high-low, x, over
		}
	}
	if at == 0 {
		return
	}
	y := own[at] - 8
	if !above {
		y = own[at] + c.f.letters + 5
	}
	c.text(float64(at), y, class+" mw-bold mw-halo", "middle", name)
}
