package picture

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"
)

func TestPicturesAreWellFormedAndSayWhatTheyShow(t *testing.T) {
	for _, l := range looks() {
		for name, svg := range pictures(t, brew(), l) {
			all := parse(t, svg)
			root := all[0]
			if root.name != "svg" || root.attributes["role"] != "img" {
				t.Errorf("%s %+v: root %s with role %q", name, l, root.name, root.attributes["role"])
			}
			title, tale := byID(all, root.attributes["aria-labelledby"]), byID(all, root.attributes["aria-describedby"])
			if !strings.HasPrefix(title, "Simulated. Barley water: ") {
				t.Errorf("%s: title %q", name, title)
			}
			for _, want := range []string{
				"Simulated: no kettle was heated.", "The plan has 6 steps and ends at 3:24",
				"Rest at ", "from 1:13 to 1:53, at its target by 1:23 (plan: 1:04 to 1:44)", "No heat from 1:10 to 1:13: heat cut.", "Moments marked: 6.",
			} {
				if !strings.Contains(tale, want) {
					t.Errorf("%s: the description lacks %q: %s", name, want, tale)
				}
			}
			if !slices.Contains(texts(all, "text"), "simulated") {
				t.Errorf("%s does not show that it is simulated", name)
			}
		}
	}
}

func byID(all []element, id string) string {
	for _, e := range all {
		if id != "" && e.attributes["id"] == id {
			return e.text
		}
	}
	return ""
}

func TestNothingHostileGetsThrough(t *testing.T) {
	evil := "<script>alert(1)</script>\" onload='x' ]]> & \x00\x1b\xff <![CDATA[ \u202e"
	d := brew()
	d.Name = evil
	for i := range d.Plan {
		d.Plan[i].Title, d.Plan[i].Kind = evil, evil
	}
	for i := range d.Went {
		d.Went[i].Title, d.Went[i].Kind = evil, evil
	}
	for i := range d.Marks {
		d.Marks[i].Text = evil
	}
	d.Off[0].To, d.Off[0].Text = minutes(150), evil
	fine := []string{"svg", "title", "desc", "style", "defs", "pattern", "path", "rect", "polygon", "text"}
	known := []string{
		"xmlns", "class", "viewBox", "role", "aria-labelledby", "aria-describedby", "id", "width", "height",
		"patternUnits", "d", "x", "y", "x1", "y1", "text-anchor", "points", "rx", "fill", "data-left", "data-right", "data-from", "data-to",
	}
	for _, l := range looks() {
		for name, svg := range pictures(t, d, l) {
			for _, e := range parse(t, svg) {
				if !slices.Contains(fine, e.name) {
					t.Fatalf("%s holds an element <%s>", name, e.name)
				}
				for attribute, value := range e.attributes {
					if !slices.Contains(known, attribute) {
						t.Fatalf("%s: <%s> has an attribute %s", name, e.name, attribute)
					}
					if strings.Contains(value, "alert") || attribute == "fill" && !strings.HasPrefix(value, "url(#"+l.ID+"-") {
						t.Fatalf("%s: %s=%q", name, attribute, value)
					}
				}
			}
			if strings.Count(svg, "://") != map[bool]int{true: 1}[l.Alone] { // the name space of SVG in a file
				t.Errorf("%s names an address", name)
			}
		}
	}
}

func TestIdsBelongToOnePicture(t *testing.T) {
	for name, svg := range pictures(t, brew(), Look{ID: "left"}) {
		seen := map[string]bool{}
		for _, e := range parse(t, svg) {
			id := e.attributes["id"]
			if id == "" {
				continue
			}
			if seen[id] || !strings.HasPrefix(id, "left-") {
				t.Errorf("%s: id %q is not its own", name, id)
			}
			seen[id] = true
		}
		for _, e := range parse(t, svg) {
			if ref, ok := strings.CutPrefix(e.attributes["fill"], "url(#"); ok && !seen[strings.TrimSuffix(ref, ")")] {
				t.Errorf("%s refers to %q, which is not there", name, ref)
			}
		}
	}
}

// numbersOf are the mark numbers that a badge's label stands for.
func numbersOf(label string) (out []int) {
	var first, last int
	if n, _ := fmt.Sscanf(label, "%d–%d", &first, &last); n < 1 {
		return nil
	} else if n == 1 {
		last = first
	}
	for ; first <= last; first++ {
		out = append(out, first)
	}
	return out
}

func TestEveryMarkIsInTheChartAndItsSentenceInTheFile(t *testing.T) {
	d := brew()
	for i := range 60 { // some stand alone, some touch
		d.Marks = append(d.Marks, Mark{minutes(math.Mod(float64(i*i), 200)), fmt.Sprintf("Sentence number %d.", i), MarkKind(i % 6)})
	}
	slices.SortStableFunc(d.Marks, func(a, b Mark) int { return int(a.At - b.At) })
	for _, l := range looks() {
		all := parse(t, pictures(t, d, l)["chart"])
		shown := map[int]bool{}
		for _, e := range classed(all, "mw-bold") {
			for _, n := range numbersOf(e.text) {
				shown[n] = true
			}
		}
		whole := strings.Join(texts(all, "text"), " ")
		for i, m := range d.Marks {
			if !shown[i+1] {
				t.Errorf("wide %v: mark %d has no badge", l.Wide, i+1)
			}
			if l.Alone && !strings.Contains(whole, m.Text) {
				t.Errorf("mark %d is not in the list: %q", i+1, m.Text)
			}
		}
	}
}

func TestEachKindOfMarkHasAShapeOfItsOwn(t *testing.T) {
	shapes := map[string]MarkKind{}
	for kind := Note; kind <= Trip; kind++ {
		shape := ""
		for _, e := range parse(t, Badge(1, kind))[1:] {
			if e.name != "text" {
				shape += e.name + e.attributes["points"] + e.attributes["rx"]
			}
		}
		if other, taken := shapes[shape]; taken {
			t.Errorf("%s and %s look the same without colour", kind, other)
		}
		shapes[shape] = kind
	}
}

func TestPlanAndActualDifferWithoutColour(t *testing.T) {
	rule := func(class string) string {
		_, after, _ := strings.Cut(CSS(), "."+class+"{")
		inside, _, _ := strings.Cut(after, "}")
		return inside
	}
	if !strings.Contains(rule("mw-plan"), "stroke-dasharray") || strings.Contains(rule("mw-actual"), "stroke-dasharray") {
		t.Error("the plan is dashed and the actual line is not")
	}
	all := parse(t, pictures(t, brew(), Look{})["chart"])
	for class, name := range map[string]string{"mw-plan": "plan", "mw-actual": "as it went", "mw-heat": "heat", "mw-off": "no heat"} {
		if len(classed(all, class)) == 0 || !slices.Contains(texts(all, "text"), name) {
			t.Errorf("%s is not drawn or not named %q", class, name)
		}
	}
}

// Contrast after WCAG 2.2, success criteria 1.4.3 and 1.4.11; the luminance
// formula is theirs.
func TestColoursStandOutOnBothPapers(t *testing.T) {
	luminance := func(hex string) float64 {
		var r, g, b int
		if _, err := fmt.Sscanf(hex, "#%02x%02x%02x", &r, &g, &b); err != nil {
			t.Fatal(hex, err)
		}
		linear := func(v int) float64 {
			c := float64(v) / 255
			if c <= 0.04045 {
				return c / 12.92
			}
			return math.Pow((c+0.055)/1.055, 2.4)
		}
		return 0.2126*linear(r) + 0.7152*linear(g) + 0.0722*linear(b)
	}
	contrast := func(a, b string) float64 {
		x, y := luminance(a), luminance(b)
		return (max(x, y) + 0.05) / (min(x, y) + 0.05)
	}
	if c := contrast("#000000", "#ffffff"); math.Abs(c-21) > 1e-9 {
		t.Fatalf("black on white is 21 to 1, not %g", c)
	}
	tone := map[string]Tone{}
	for _, c := range Tones {
		tone[c.Property] = c
	}
	paper, tint := tone["--mw-paper"], tone["--mw-tint"]
	for _, c := range Tones {
		need := 3.0
		switch {
		case c.Text:
			need = 4.5
		case c.Property != "--mw-plan":
			continue // paper, grid and tint carry no meaning
		}
		for _, pair := range [][2]string{{c.Light, paper.Light}, {c.Dark, paper.Dark}, {c.Light, tint.Light}, {c.Dark, tint.Dark}} {
			if got := contrast(pair[0], pair[1]); got < need {
				t.Errorf("%s: %s on %s has a contrast of %.2f, less than %g", c.Property, pair[0], pair[1], got, need)
			}
		}
	}
}

func TestNowIsDrawnWhileTheDayRunsAndNotAfter(t *testing.T) {
	d := brew()
	d.Now = minutes(100)
	for name, svg := range pictures(t, d, Look{}) {
		if len(classed(parse(t, svg), "mw-now")) != 0 {
			t.Errorf("%s: a now-line in a day that is over", name)
		}
	}
	d.Running = true
	for name, svg := range pictures(t, d, Look{}) {
		lines := classed(parse(t, svg), "mw-now")
		f := frameOf(Look{}, d.End())
		if want := "M" + number(f.x(d.Now)) + " "; len(lines) != 1 || !strings.HasPrefix(lines[0].attributes["d"], want) {
			t.Errorf("%s: now-lines %v, want one at %s", name, lines, want)
		}
	}
	if tale := Tale(d, Look{}); !strings.Contains(tale, "It is now 1:40") {
		t.Errorf("now is not told: %s", tale)
	}
}

func TestClockTimesStandUnderTheAxisWhereTheStartIsKnown(t *testing.T) {
	d := brew()
	d.HasClock, d.Armed = true, 22*time.Hour+30*time.Minute
	written := texts(parse(t, pictures(t, d, Look{})["chart"]), "text")
	for _, want := range []string{"0:00", "22:30", "1:00", "23:30", "2:00", "00:30"} {
		if !slices.Contains(written, want) {
			t.Errorf("%q is not at the axis: %q", want, written)
		}
	}
}

// 71 °C is 159.8 °F; differences have no part in the pictures.
func TestFahrenheitIsWrittenWhereItIsAskedFor(t *testing.T) {
	chart := pictures(t, brew(), Look{Wide: true, Fahrenheit: true})["chart"]
	written := strings.Join(texts(parse(t, chart), "text"), "|")
	if !strings.Contains(written, "rest 159.8 °F") || !strings.Contains(written, "|°F|") || strings.Contains(chart, "°C") {
		t.Errorf("not in Fahrenheit throughout: %s", written)
	}
}

func TestADayWithNothingInItIsDrawn(t *testing.T) {
	nan := math.NaN()
	odd := []Day{
		{},
		{Running: true},
		{Points: []Point{{}}},
		{Plan: []Leg{{}}},
		{Marks: []Mark{{}}},
		{Points: []Point{{At: -time.Hour, Reading: nan, Estimate: nan, Target: nan, Duty: nan}, {Reading: math.Inf(1), Duty: -3}}},
		{Off: []Span{{time.Hour, 0, ""}}, Plan: []Leg{Leg{Start: time.Hour, Target: nan, From: nan, Ends: nan}.Never()}},
		{Points: []Point{{Reading: 1e300}, {At: 1, Reading: -1e300, Duty: 1e9}}, HasClock: true, Armed: -time.Hour},
	}
	for i, d := range odd {
		for _, l := range looks() {
			for name, svg := range pictures(t, d, l) {
				parse(t, svg)
				if strings.Contains(svg, "NaN") || strings.Contains(svg, "Inf") {
					t.Errorf("day %d, %s: not a number in it", i, name)
				}
			}
		}
	}
}
