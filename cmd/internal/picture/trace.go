package picture

import (
	"math"
	"time"
)

// spot is a place in the picture.
type spot struct{ x, y float64 }

// trace is a line through the day: its places, in runs without a gap.
type trace [][]spot

// traceOf follows one figure of the points; where it is unknown, the line
// breaks. value gives it in shown units.
func traceOf(points []Point, f frame, t thermo, value func(Point) float64) trace {
	var out trace
	open := false
	for _, p := range points {
		v := value(p)
		if !known(v) {
			open = false
			continue
		}
		if !open {
			out, open = append(out, nil), true
		}
		run := &out[len(out)-1]
		*run = append(*run, spot{f.x(p.At), t.y(v)})
	}
	return out
}

// column is the width within which only the lowest and the highest place are
// kept, and bend the distance at which a place on a line is left out: less
// than half of a line's width.
func (f frame) column() float64 { return max(0.8, (f.right-f.left)/720) }

const bend = 0.35

// thin leaves out what cannot be seen: in each column all but the first, the
// lowest, the highest and the last place, so that no spike is lost; then
// every place that lies on the line between its neighbours.
func thin(run []spot, column float64) []spot {
	return straighten(extremes(run, column))
}

func extremes(run []spot, column float64) []spot {
	var out []spot
	for i := 0; i < len(run); {
		j, low, high := i, i, i
		for j < len(run) && run[j].x < run[i].x+column {
			if run[j].y < run[low].y {
				low = j
			}
			if run[j].y > run[high].y {
				high = j
			}
			j++
		}
		out = append(out, run[min(low, high)])
		if low != high {
			out = append(out, run[max(low, high)])
		}
		if j == len(run) && max(low, high) != j-1 {
			out = append(out, run[j-1])
		}
		i = j
	}
	return out
}

// straighten keeps the places without which the line would be off by bend or
// more (Douglas and Peucker 1973).
func straighten(run []spot) []spot {
	if len(run) < 3 {
		return run
	}
	keep := make([]bool, len(run))
	keep[0], keep[len(run)-1] = true, true
	open := [][2]int{{0, len(run) - 1}}
	for len(open) > 0 {
		a, b := open[len(open)-1][0], open[len(open)-1][1]
		open = open[:len(open)-1]
		worst, far := -1, bend
		for i := a + 1; i < b; i++ {
			if d := distance(run[i], run[a], run[b]); d >= far {
				worst, far = i, d
			}
		}
		if worst > 0 {
			keep[worst] = true
			open = append(open, [2]int{a, worst}, [2]int{worst, b})
		}
	}
	var out []spot
	for i, p := range run {
		if keep[i] {
			out = append(out, p)
		}
	}
	return out
}

// distance of p from the line between a and b.
func distance(p, a, b spot) float64 {
	dx, dy := b.x-a.x, b.y-a.y
	length := math.Hypot(dx, dy)
	if length == 0 {
		return math.Hypot(p.x-a.x, p.y-a.y)
	}
	return math.Abs(dy*(p.x-a.x)-dx*(p.y-a.y)) / length
}

// path writes the trace as one path of relative steps.
func (k *ink) path(t trace, column float64, class string) {
	if len(t) == 0 {
		return
	}
	k.put(`<path class="`, class, `" d="`)
	for _, run := range t {
		k.run(thin(run, column))
	}
	k.put("\"/>\n")
}

// run writes one run: relative to what has been written, so that rounding does
// not add up. A single place becomes a dot.
func (k *ink) run(run []spot) {
	round := func(v float64) float64 { return math.Round(v*10) / 10 }
	at := spot{round(run[0].x), round(run[0].y)}
	k.put("M", at.x, " ", at.y)
	if len(run) == 1 {
		k.put("h1")
	}
	for _, p := range run[1:] {
		next := spot{round(p.x), round(p.y)}
		dx, dy := number(next.x-at.x), number(next.y-at.y)
		k.put("l", dx)
		if dy[0] != '-' {
			k.put(" ")
		}
		k.put(dy)
		at = next
	}
}

// planned is the plan as a trace.
func planned(legs []Leg, f frame, t thermo, l Look) trace {
	var run []spot
	add := func(b Bend) { run = append(run, spot{f.x(b.At), t.y(l.units(b.Temperature))}) }
	from, to := f.begin, f.begin+f.span
	all := course(legs)
	for i, b := range all {
		if i > 0 { // where it comes in from an edge, or goes out by one
			for _, edge := range []time.Duration{from, to} {
				if a := all[i-1]; a.At < edge && edge < b.At {
					add(Bend{edge, between(a, b, edge)})
				}
			}
		}
		if b.At >= from && b.At <= to {
			add(b)
		}
	}
	if len(run) == 0 {
		return nil
	}
	return trace{run}
}

// duty writes the share of power as a filled area over bottom, height high at
// full power. A column shows the mean of its time, a minute at the least, so
// that the pulses of a relay come out as their share: what is filled is energy.
func (k *ink) duty(points []Point, f frame, bottom, height float64) {
	width := max(2, f.x(f.begin+time.Minute)-f.left)
	if len(points) < 2 {
		return
	}
	columns := int((f.right-f.left)/width) + 1
	sum, weight := make([]float64, columns), make([]float64, columns)
	for i, p := range points[1:] {
		if !known(p.Duty) {
			continue
		}
		share := min(max(p.Duty, 0), 1)
		from, to := (f.x(points[i].At)-f.left)/width, (f.x(p.At)-f.left)/width
		for c := int(from); c < columns && float64(c) < to; c++ {
			part := min(to, float64(c+1)) - max(from, float64(c))
			sum[c] += share * part
			weight[c] += part
		}
	}
	k.put(`<path class="mw-heat" d="M`, f.left, " ", bottom)
	level := 0.0
	for c := range columns {
		y := 0.0
		if weight[c] > 0 {
			y = math.Round(sum[c]/weight[c]*height*10) / 10
		}
		if y != level {
			k.put("H", f.left+float64(c)*width, "V", bottom-y)
			level = y
		}
	}
	k.put("H", f.right, "V", bottom, "Z\"/>\n")
}
