package picture

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"time"
)

// minutes is so many minutes since arming.
func minutes(m float64) time.Duration { return time.Duration(m * float64(time.Minute)) }

// brew is a day of four hours that ran nine minutes late from the rest on, with
// marks of every kind.
func brew() Day {
	d := Day{Name: "Barley water", Simulated: true}
	plan := func(index int, kind string, start, reached, end, from, target float64) {
		d.Plan = append(d.Plan, Leg{
			Index: index, Kind: kind, Title: kind, Start: minutes(start), Reached: minutes(reached),
			End: minutes(end), From: from, Target: target, Ends: math.NaN(),
		})
	}
	plan(0, "strike", 0, 22, 22, 12, 68)
	plan(1, "mash-in", 24, 24, 64, 63, 63)
	plan(2, "rest", 64, 74, 104, 63, 71)
	plan(3, "lift", 104, 104, 104, 71, math.NaN())
	plan(4, "boil", 104, 130, 190, 71, 99)
	plan(5, "chill", 190, 204, 204, 99, 20)
	for _, p := range d.Plan {
		late := time.Duration(0)
		if p.Index >= 2 {
			late = minutes(9)
		}
		p.Start, p.Reached, p.End = p.Start+late, p.Reached+late, p.End+late
		d.Went = append(d.Went, p)
	}
	for kind := Note; kind <= Trip; kind++ {
		d.Marks = append(d.Marks, Mark{minutes(20 + 30*float64(kind)), fmt.Sprintf("What happened as number %d.", kind), kind})
	}
	d.Off = []Span{{minutes(70), minutes(73), "heat cut"}}
	d.Needed = []Mark{{minutes(22), "Pour.", Person}, {minutes(104), "Lift.", Person}}
	d.Points = follow(d.Went, 5*time.Second)
	return d
}

// follow walks along legs and keeps a point each interval; full power on the
// way up, a fifth while there.
func follow(legs []Leg, every time.Duration) []Point {
	var out []Point
	for _, g := range legs {
		for at := g.Start; at < g.End; at += every {
			p := Point{At: at, Reading: g.Target, Target: g.Target, Duty: 0.2, Step: g.Index}
			if at < g.Reached {
				p.Reading = g.From + (g.Target-g.From)*float64(at-g.Start)/float64(g.Reached-g.Start)
				p.Duty = 1
			}
			p.Estimate = p.Reading
			out = append(out, p)
		}
	}
	return out
}

// looks are all ways to draw.
func looks() []Look {
	var all []Look
	for i := range 8 {
		all = append(all, Look{Wide: i&1 > 0, Fahrenheit: i&2 > 0, Alone: i&4 > 0, ID: fmt.Sprint("p", i)})
	}
	return all
}

// pictures are both pictures of a day in one look.
func pictures(t testing.TB, d Day, l Look) map[string]string {
	t.Helper()
	out := map[string]string{}
	for name, draw := range map[string]func(io.Writer, Day, Look) error{"chart": Chart, "strip": Strip} {
		var b bytes.Buffer
		if err := draw(&b, d, l); err != nil {
			t.Fatal(name, err)
		}
		out[name] = b.String()
	}
	return out
}

// element is one element of a parsed picture.
type element struct {
	name, text string
	attributes map[string]string
}

// parse reads a picture with the standard library's reader, strictly: it is
// the outside check that the pictures are well-formed.
func parse(t testing.TB, svg string) []element {
	t.Helper()
	var all []element
	var open []int
	decoder := xml.NewDecoder(strings.NewReader(svg))
	for {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) {
			return all
		}
		if err != nil {
			t.Fatalf("not well-formed: %v\n%.600s", err, svg)
		}
		switch token := token.(type) {
		case xml.StartElement:
			e := element{name: token.Name.Local, attributes: map[string]string{}}
			for _, a := range token.Attr {
				e.attributes[a.Name.Local] = a.Value
			}
			open = append(open, len(all))
			all = append(all, e)
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if len(open) > 0 {
				all[open[len(open)-1]].text += string(token)
			}
		}
	}
}

// texts are all texts of elements of a name.
func texts(all []element, name string) (out []string) {
	for _, e := range all {
		if e.name == name {
			out = append(out, e.text)
		}
	}
	return out
}

// classed are the elements that carry a class.
func classed(all []element, class string) (out []element) {
	for _, e := range all {
		if strings.Contains(" "+e.attributes["class"]+" ", " "+class+" ") {
			out = append(out, e)
		}
	}
	return out
}
