package picture

import (
	"fmt"
	"slices"
)

// badge is one mark in a picture, or several that would touch, under one shape.
type badge struct {
	x       float64
	numbers []int
	kind    MarkKind
	first   float64 // x of the first and the last mark
	last    float64
}

// label is the marks' numbers: "4", "4–6" or, with others between, "4…9".
func (b badge) label() string {
	first, last := b.numbers[0], b.numbers[len(b.numbers)-1]
	switch {
	case first == last:
		return fmt.Sprint(first)
	case last-first == len(b.numbers)-1:
		return fmt.Sprintf("%d–%d", first, last)
	}
	return fmt.Sprintf("%d…%d", first, last)
}

const (
	badgeHeight = 20.0
	badgeSides  = 10.0 // left and right of the number, together
	badgeGap    = 3.0
)

func (b badge) width(f frame) float64 { return extent(b.label(), f.letters) + badgeSides }

// badges puts the marks of the kinds wanted on the time scale; the number is
// the mark's place in the list, from 1.
func badges(marks []Mark, f frame, wanted func(MarkKind) bool) []badge {
	var out []badge
	for i, m := range marks {
		if !wanted(m.Kind) {
			continue
		}
		x := f.x(m.At)
		out = append(out, badge{numbers: []int{i + 1}, kind: m.Kind, first: x, last: x}.within(f))
		for len(out) > 1 {
			a, b := out[len(out)-2], out[len(out)-1]
			if a.x+a.width(f)/2+badgeGap <= b.x-b.width(f)/2 {
				break
			}
			out = append(out[:len(out)-2], join(a, b, f))
		}
	}
	return out
}

func join(a, b badge, f frame) badge {
	a.numbers = slices.Concat(a.numbers, b.numbers)
	a.kind, a.last = max(a.kind, b.kind), b.last
	return a.within(f)
}

// within puts a badge in the middle of its marks, but not over the words left
// of the scale nor out of the picture.
func (b badge) within(f frame) badge {
	half := b.width(f) / 2
	b.x = max(min((b.first+b.last)/2, f.width-half-2), f.left+half-1)
	return b
}

// badge draws a mark with its middle at y.
func (k *ink) badge(b badge, f frame, y float64) {
	k.shape(b.kind, b.x, y, b.width(f))
	class := "mw-bold"
	if b.kind >= Cut {
		class += " mw-inverse"
	}
	k.text(b.x, y+f.letters*0.36, class, "middle", b.label())
}

// shape gives each kind its own: a frame with round corners for a person, one
// that points down for an addition, a six-sided one for an alarm, a filled one
// for a cut and a filled one without corners for a trip; a note is underlined.
func (k *ink) shape(kind MarkKind, x, y, width float64) {
	const h = badgeHeight / 2
	w := width / 2
	polygon := func(class string, at ...float64) {
		k.put(`<polygon class="`, class, `" points="`)
		for i := 0; i < len(at); i += 2 {
			k.put(x+at[i], ",", y+at[i+1], " ")
		}
		k.put("\"/>\n")
	}
	switch kind {
	case Person:
		k.put(`<rect x="`, x-w, `" y="`, y-h, `" width="`, width, `" height="`, 2*h, `" rx="7" class="mw-badge"/>`, "\n")
	case Addition:
		polygon("mw-badge", -w, -h, w, -h, w, h-3, 0, h+4, -w, h-3)
	case Alarm:
		polygon("mw-warn", -w-2, 0, 3-w, -h, w-3, -h, w+2, 0, w-3, h, 3-w, h)
	case Cut:
		polygon("mw-grave", -w, -h, w, -h, w, h, -w, h)
	case Trip:
		polygon("mw-grave", -w-1, -h+5, -w+4, -h-1, w-4, -h-1, w+1, -h+5, w+1, h-5, w-4, h+1, -w+4, h+1, -w-1, h-5)
	case Note:
		k.box(x-w, y-h, width, 2*h, "mw-soft", "")
		k.line(x-w+3, y+h-1, x+w-3, y+h-1, "mw-axis")
	}
}

// Badge is a mark's shape with its number as a small picture of its own, to
// stand in front of its line in a page's list. Programs that read a page aloud
// skip it: the list says number and kind in words.
func Badge(number int, kind MarkKind) string {
	k := &ink{}
	f := frame{letters: 16}
	b := badge{numbers: []int{number}, kind: kind}
	width := b.width(f) + 8
	b.x = width / 2
	k.put(`<svg class="mw-pic mw-small mw-mark" viewBox="0 0 `, width, ` 24" width="`, width, `" height="24" aria-hidden="true" focusable="false">`)
	k.badge(b, f, 11)
	k.put("</svg>")
	return k.String()
}

// markList writes the marks as lines of text and returns where it ends.
func (k *ink) markList(marks []Mark, f frame, y float64) float64 {
	if len(marks) == 0 {
		return y
	}
	widest := badge{numbers: []int{len(marks)}}.width(f)
	from := 6 + widest + 8
	for i, m := range marks {
		b := badge{x: 6 + widest/2, numbers: []int{i + 1}, kind: m.Kind}
		k.badge(b, f, y)
		text := clock(m.At) + "  " + m.Kind.String() + ": " + m.Text
		for n, line := range wrapped(text, f.letters, f.width-from-4) {
			if n > 0 {
				y += f.row()
			}
			k.text(from, y+f.letters*0.36, "mw-quiet", "start", line)
		}
		y += f.row() + 6
	}
	return y
}
