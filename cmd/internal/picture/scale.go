package picture

import (
	"fmt"
	"math"
	"time"
)

// frame is the drawing area of a picture and its time scale.
type frame struct {
	width, left, right float64 // the picture; the ends of the time scale
	letters            float64 // size of letters
	begin, span        time.Duration
	large              bool
}

// frameOf is the frame of a look for a day that long. Letters are as large as those of a page
// around it, or nearly: old eyes stand at arm's length from a telephone.
func frameOf(l Look, span time.Duration) frame {
	if l.Wide {
		return frame{width: 960, left: 66, right: 944, letters: 16, span: span, large: true}
	}
	return frame{width: 344, left: 54, right: 334, letters: 16, span: span}
}

// x is where a moment stands.
func (f frame) x(at time.Duration) float64 {
	share := (at - f.begin).Seconds() / f.span.Seconds()
	return f.left + min(max(share, 0), 1)*(f.right-f.left)
}

// thermo is the temperature scale, in shown units.
type thermo struct {
	low, high   float64 // shown units, at bottom and top
	top, bottom float64 // y
	step        float64
}

// y is where a temperature in shown units stands.
func (t thermo) y(shown float64) float64 {
	share := (shown - t.low) / (t.high - t.low)
	return t.bottom - min(max(share, 0), 1)*(t.bottom-t.top)
}

// What lies outside of these, °C, makes no scale: it is drawn at the edge.
const (
	coldest = -60
	hottest = 200
)

// thermoOf makes room for every temperature of the day.
func thermoOf(d Day, l Look, top, bottom float64) thermo {
	low, high := math.Inf(1), math.Inf(-1)
	see := func(celsius float64) {
		if celsius >= coldest && celsius <= hottest {
			low, high = min(low, l.units(celsius)), max(high, l.units(celsius))
		}
	}
	if l.zoomed() { // a step that reaches into the part brings no more than lies in it
		see(d.Planned(l.From))
		see(d.Planned(l.To))
		for _, b := range course(d.Plan) {
			if b.At >= l.From && b.At <= l.To {
				see(b.Temperature)
			}
		}
	} else {
		for _, g := range d.Plan {
			see(g.From)
			see(g.Target)
			see(g.Ends)
		}
	}
	for _, p := range d.Points {
		see(p.Reading)
		see(p.Estimate)
	}
	if low > high {
		low, high = l.units(0), l.units(100)
	}
	step := 10.0
	steps := []float64{10, 20, 50, 100}
	if l.zoomed() {
		steps = append([]float64{1, 2, 5}, steps...)
	}
	for _, s := range steps {
		step = s
		if (high-low)/s <= 10 {
			break
		}
	}
	return thermo{low: math.Floor((low-1)/step) * step, high: math.Ceil((high+1)/step) * step, top: top, bottom: bottom, step: step}
}

// ticks are the moments written at the time axis: round ones, so many that
// they do not touch.
func (f frame) ticks() []time.Duration {
	room := 56.0
	if f.large {
		room = 72
	}
	step := 24 * time.Hour
	for _, s := range []time.Duration{1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 720} {
		if f.x(f.begin+s*time.Minute)-f.left >= room {
			step = s * time.Minute
			break
		}
	}
	var out []time.Duration
	for at := (f.begin + step - 1) / step * step; at <= f.begin+f.span; at += step {
		out = append(out, at)
	}
	return out
}

// clock is h:mm since arming.
func clock(at time.Duration) string {
	minutes := int(at / time.Minute)
	return fmt.Sprintf("%d:%02d", minutes/60, minutes%60)
}

// hour is a time of day.
func hour(of time.Duration) string {
	minutes := int(of/time.Minute) % (24 * 60)
	return fmt.Sprintf("%02d:%02d", minutes/60, minutes%60)
}

// timeAxis writes the axis under a picture and returns where it ends.
func (k *ink) timeAxis(f frame, d Day, y float64) float64 {
	k.line(f.left, y, f.right, y, "mw-axis")
	for _, at := range f.ticks() {
		x := f.x(at)
		k.line(x, y, x, y+5, "mw-axis")
		x = min(x, f.width-extent("00:00", f.letters)/2)
		k.text(x, y+21, "mw-quiet", "middle", clock(at))
		if d.HasClock {
			k.text(x, y+41, "mw-quiet", "middle", hour(d.Armed+at))
		}
	}
	title := "hours:minutes since arming"
	if d.HasClock {
		y += 20
		title += ", time of day below"
	}
	for _, line := range wrapped(title, f.letters, f.right-f.left) {
		y += 20
		k.text(f.right, y+21, "mw-quiet", "end", line)
	}
	return y + 28
}
