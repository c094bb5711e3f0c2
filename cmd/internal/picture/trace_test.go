package picture

import (
	"math"
	"math/rand/v2"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

// whole is the size a line through a whole day must stay below, bytes.
const whole = 15_000

func TestALongNoisyDayStaysSmall(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	d := brew()
	d.Points = nil
	for s := range 12 * 3600 {
		d.Points = append(d.Points, Point{At: time.Duration(s) * time.Second, Reading: 20 + 80*r.Float64(), Estimate: 50, Duty: r.Float64()})
	}
	for _, l := range looks() {
		all := parse(t, pictures(t, d, l)["chart"])
		for _, class := range []string{"mw-actual", "mw-heat", "mw-plan"} {
			for _, e := range classed(all, class) {
				if n := len(e.attributes["d"]); n > whole {
					t.Errorf("%s, wide %v: %d bytes", class, l.Wide, n)
				}
			}
		}
	}
}

func TestASpikeOfOneSecondIsNotLost(t *testing.T) {
	f := frameOf(Look{Wide: true}, 8*time.Hour)
	var run []spot
	for s := range 8 * 3600 {
		y := 200.0
		if s == 12345 {
			y = 40
		}
		if s == 20000 {
			y = 300
		}
		run = append(run, spot{f.x(time.Duration(s) * time.Second), y})
	}
	out := thin(run, f.column())
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range out {
		low, high = min(low, p.y), max(high, p.y)
	}
	if low != 40 || high != 300 {
		t.Errorf("kept %g to %g of 40 to 300", low, high)
	}
	if len(out) > 12 {
		t.Errorf("%d places for a straight line with two spikes", len(out))
	}
}

// Thinning must not move the line: each place left out lies within a bend and
// a column of what is drawn.
func TestThinningDoesNotMoveTheLine(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 50 {
		f := frameOf(Look{Wide: r.IntN(2) == 0}, 4*time.Hour)
		var run []spot
		y := 100.0
		for s := 0; s < 4*3600; s += 5 {
			y = min(max(y+r.NormFloat64()/2, 0), 200)
			run = append(run, spot{f.x(time.Duration(s) * time.Second), y})
		}
		out := thin(run, f.column())
		for _, p := range run {
			if d := nearest(p, out); d > bend+f.column() {
				t.Fatalf("a place is %.2f away from the line", d)
			}
		}
		if len(out) >= len(run) {
			t.Errorf("nothing was left out of %d", len(run))
		}
	}
}

// nearest is the distance of p from a line through places.
func nearest(p spot, line []spot) float64 {
	best := math.Inf(1)
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		if b.x < p.x-5 || a.x > p.x+5 {
			continue
		}
		share := ((p.x-a.x)*(b.x-a.x) + (p.y-a.y)*(b.y-a.y)) / max(1e-9, (b.x-a.x)*(b.x-a.x)+(b.y-a.y)*(b.y-a.y))
		share = min(max(share, 0), 1)
		best = min(best, math.Hypot(p.x-a.x-share*(b.x-a.x), p.y-a.y-share*(b.y-a.y)))
	}
	return best
}

// drawn follows a path of M, l and h steps back to places.
func drawn(t *testing.T, d string) (out []spot) {
	t.Helper()
	var at spot
	for _, step := range regexp.MustCompile(`[Mlh][^Mlh]*`).FindAllString(d, -1) {
		var v []float64
		for _, n := range regexp.MustCompile(`-?[0-9.]+`).FindAllString(step[1:], -1) {
			x, err := strconv.ParseFloat(n, 64)
			if err != nil {
				t.Fatalf("%q in %q: %v", n, step, err)
			}
			v = append(v, x)
		}
		switch {
		case step[0] == 'M' && len(v) == 2:
			at = spot{v[0], v[1]}
		case step[0] == 'l' && len(v) == 2:
			at = spot{at.x + v[0], at.y + v[1]}
		case step[0] == 'h' && len(v) == 1:
			at.x += v[0]
		default:
			t.Fatalf("cannot read %q", step)
		}
		out = append(out, at)
	}
	return out
}

func TestThePathLandsWhereThePointsAre(t *testing.T) {
	d := brew()
	chart := parse(t, pictures(t, d, Look{Wide: true})["chart"])
	places := drawn(t, classed(chart, "mw-actual")[0].attributes["d"])
	f := frameOf(Look{Wide: true}, d.End())
	last := d.Points[len(d.Points)-1]
	if end := places[len(places)-1]; math.Abs(end.x-f.x(last.At)) > 0.2 {
		t.Errorf("the line ends at %.1f, the day at %.1f", end.x, f.x(last.At))
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range places {
		low, high = min(low, p.y), max(high, p.y)
	}
	c := chartOf(d, Look{Wide: true})
	if math.Abs(low-c.t.y(99)) > 0.2 || math.Abs(high-c.t.y(12)) > 0.2 {
		t.Errorf("drawn from y %.1f to %.1f, want %.1f to %.1f", low, high, c.t.y(99), c.t.y(12))
	}
}

// chartOf is a chart laid out and not drawn.
func chartOf(d Day, l Look) *chart {
	c := &chart{d: d, l: l, f: frameOf(l, d.End()), went: d.went()}
	c.lay()
	return c
}

func TestAGapInTheReadingsIsAGapInTheLineAndTheEstimateFillsIt(t *testing.T) {
	d := brew()
	for i, p := range d.Points {
		if p.At >= minutes(30) && p.At < minutes(40) {
			d.Points[i].Reading = math.NaN()
		}
	}
	all := parse(t, pictures(t, d, Look{Wide: true})["chart"])
	actual, guess := classed(all, "mw-actual"), classed(all, "mw-guess")
	if len(actual) != 2 || strings.Count(actual[0].attributes["d"], "M") != 2 { // the other one is the key's
		t.Errorf("the line has %d runs, want 2", strings.Count(actual[0].attributes["d"], "M"))
	}
	if len(guess) != 1 || strings.Count(guess[0].attributes["d"], "M") != 1 {
		t.Error("the estimate does not stand in for the readings")
	}
}

// What is filled is energy: the area of the strip against the sum of duty
// times time, added up by hand.
func TestTheHeatStripHoldsTheEnergy(t *testing.T) {
	d := brew()
	for _, l := range []Look{{}, {Wide: true}} {
		f := frameOf(l, d.End())
		want := 0.0
		for i := 1; i < len(d.Points); i++ {
			want += d.Points[i].Duty * (f.x(d.Points[i].At) - f.x(d.Points[i-1].At))
		}
		const height = 50.0
		k := &ink{}
		k.duty(d.Points, f, 100, height)
		path := parse(t, k.String())[0].attributes["d"]
		area, x, y := 0.0, f.left, 0.0
		for _, step := range regexp.MustCompile(`[HV][0-9.]+`).FindAllString(path, -1) {
			v, err := strconv.ParseFloat(step[1:], 64)
			if err != nil {
				t.Fatal(err)
			}
			if step[0] == 'V' {
				y = 100 - v
				continue
			}
			area += y * (v - x)
			x = v
		}
		if got := area / height; math.Abs(got-want) > 0.015*want {
			t.Errorf("wide %v: %.1f of %.1f", l.Wide, got, want)
		}
	}
}

func TestNumbersAreShortAndRoundedToATenth(t *testing.T) {
	for x, want := range map[float64]string{0: "0", -0.04: "0", 0.26: ".3", -0.5: "-.5", 12: "12", 3.14: "3.1", math.NaN(): "0"} {
		if got := number(x); got != want {
			t.Errorf("%v: %q, want %q", x, got, want)
		}
	}
}

func BenchmarkChartOfADay(b *testing.B) {
	d := brew()
	b.ReportAllocs()
	for b.Loop() {
		if err := Chart(&strings.Builder{}, d, Look{Wide: true}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(d.Points)), "points")
}
