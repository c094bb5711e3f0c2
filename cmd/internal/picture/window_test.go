package picture

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"
)

func TestAPartOfTheDayIsDrawnWithWhatLiesInIt(t *testing.T) {
	d := brew()
	l := Look{From: minutes(73), To: minutes(113)}
	root := parse(t, pictures(t, d, l)["chart"])
	svg := root[0]
	written := texts(root, "text")
	for _, want := range []string{"1:20", "1:40", "72", "64"} { // minutes within it, and degrees within the rest
		if !slices.Contains(written, want) {
			t.Errorf("%q is not at an axis: %q", want, written)
		}
	}
	for _, not := range []string{"0:00", "3:00", "20", "90"} {
		if slices.Contains(written, not) {
			t.Errorf("%q is of another part: %q", not, written)
		}
	}
	// The rest goes from 1:13 to 1:53 and comes to 71 °C in ten minutes: both lines begin
	// at the left edge and end at the right one, and none goes beyond.
	f := frameOf(l, l.To-l.From)
	for _, class := range []string{"mw-plan", "mw-actual"} {
		lines := classed(root, class)
		at := drawn(t, lines[0].attributes["d"])
		if math.Abs(at[0].x-f.left) > 0.5 || math.Abs(at[len(at)-1].x-f.right) > 0.5 {
			t.Errorf("%s goes from %v to %v", class, at[0], at[len(at)-1])
		}
	}
	if n := len(classed(root, "mw-badge")); n == 0 || n >= len(classed(parse(t, pictures(t, d, Look{})["chart"]), "mw-badge")) {
		t.Errorf("%d marks", n)
	}
	if svg.attributes["data-from"] != "4380" || svg.attributes["data-to"] != "6780" {
		t.Errorf("from %s to %s", svg.attributes["data-from"], svg.attributes["data-to"])
	}
}

// By hand: the rest is heated from 63 to 71 °C between 1:04 and 1:14.
func TestThePlannedTemperatureIsReadBetweenItsPlaces(t *testing.T) {
	d := brew()
	for m, want := range map[float64]float64{64: 63, 69: 67, 74: 71, 100: 71, 203.9: 20} {
		if got := d.Planned(minutes(m)); math.Abs(got-want) > 0.7 {
			t.Errorf("at %v min %v °C, not %v", m, got, want)
		}
	}
	for _, at := range []time.Duration{-time.Second, minutes(205)} {
		if got := d.Planned(at); !math.IsNaN(got) {
			t.Errorf("at %v %v °C", at, got)
		}
	}
}

func TestWhatTheEnzymesHaveLeftIsABandFromLeastToMost(t *testing.T) {
	d := brew()
	if svg := pictures(t, d, Look{})["chart"]; strings.Contains(svg, "amylase") {
		t.Error("a band of nothing")
	}
	for m := 24.0; m <= 104; m++ {
		share := 1 - (m-24)/80
		d.Enzymes = append(d.Enzymes, Left{minutes(m), [2]float64{share * share, share}, [2]float64{share, 1}})
	}
	root := parse(t, pictures(t, d, Look{})["chart"])
	written := texts(root, "text")
	if !slices.Contains(written, "alpha-amylase left") || !slices.Contains(written, "beta-amylase left") {
		t.Error(written)
	}
	f := frameOf(Look{}, d.End())
	for _, class := range []string{"mw-alpha", "mw-beta"} {
		bands := classed(root, class)
		if len(bands) != 1 {
			t.Fatalf("%d of %s", len(bands), class)
		}
		high, low := math.Inf(-1), math.Inf(1)
		for _, pair := range strings.Fields(bands[0].attributes["points"]) {
			var x, y float64
			if _, err := fmt.Sscanf(pair, "%f,%f", &x, &y); err != nil || x < f.x(minutes(24))-0.1 || x > f.x(minutes(104))+0.1 {
				t.Errorf("%s at %s %v", class, pair, err)
			}
			high, low = max(high, y), min(low, y)
		}
		if math.Abs(high-low-52) > 0.3 { // the lane's height: both go from all to none, alpha at least
			t.Errorf("%s from %v to %v", class, low, high)
		}
	}
}
