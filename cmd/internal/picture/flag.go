package picture

import (
	"fmt"
	"math"
)

// flag is the name of something that begins at x. texts are what to write, the
// fullest first; an empty one leaves only the line.
type flag struct {
	x     float64
	texts []string
}

// placed is a flag with its text in a row; row 0 is farthest from the picture.
type placed struct {
	flag
	text string
	row  int
	from float64 // where the text begins
}

// try is one attempt: which texts, in how many rows.
type try struct{ text, rows int }

// fly finds rows for flags so that no text touches another and no line crosses
// a text: names step down towards the picture and begin again at the top where
// everything below is free. The fullest texts that fit are taken; in the end
// those that fit nowhere are left out, and their lines stay.
func fly(flags []flag, f frame, tries []try) (out []placed, rows int) {
	for i, t := range tries {
		last := i == len(tries)-1
		if out, rows, ok := hoist(flags, f, t, last); ok || last {
			return out, rows
		}
	}
	return nil, 0
}

func hoist(flags []flag, f frame, t try, anyway bool) (out []placed, rows int, ok bool) {
	const gap = 6
	taken := make([]float64, t.rows)
	for i := range taken {
		taken[i] = math.Inf(-1)
	}
	ok = true
	for _, g := range flags {
		p := placed{flag: g, text: g.texts[min(t.text, len(g.texts)-1)]}
		width := extent(p.text, f.letters)
		p.from = max(0, min(g.x+4, f.width-2-width))
		for p.row < t.rows && (!free(taken[p.row:], g.x, p.from, gap) || crossed(out, p)) {
			p.row++
		}
		if p.row == t.rows {
			ok = false
			if !anyway {
				return nil, 0, false
			}
			p.text, p.row = "", t.rows-1
			out = append(out, p)
			continue
		}
		taken[p.row] = p.from + width
		rows = max(rows, p.row+1)
		out = append(out, p)
	}
	return out, rows, ok
}

// free tells whether a text may begin at from in the first row, with its line
// at x coming down through all others.
func free(taken []float64, x, from, gap float64) bool {
	for i, end := range taken {
		if end+gap > x || i == 0 && end+gap > from {
			return false
		}
	}
	return true
}

// crossed tells whether a line of those placed before comes down through the
// text: one near the right edge is moved to the left, over earlier lines.
func crossed(before []placed, p placed) bool {
	for i := len(before) - 1; i >= 0 && before[i].x >= p.from; i-- {
		if before[i].row < p.row {
			return true
		}
	}
	return false
}

// nameFlags name legs: "rest 63.5 °C", "rest 64°", "64°", "2".
func nameFlags(legs []Leg, f frame, l Look) []flag {
	longest := 110.0
	if f.large {
		longest = 220
	}
	flags := make([]flag, 0, len(legs))
	for _, g := range legs {
		full, short := g.Title, g.Kind
		if short == "stand" {
			short = "hop stand"
		}
		shortest := short
		if known(g.Target) && g.Kind != "boil" {
			full = fmt.Sprintf("%s %s %s", g.Title, degrees(l.units(g.Target)), l.unit())
			shortest = fmt.Sprintf("%.0f°", l.units(g.Target))
			short += " " + shortest
		}
		full = clipped(full, f.letters, longest)
		flags = append(flags, flag{f.x(g.Start), []string{full, clipped(short, f.letters, longest), shortest, fmt.Sprint(g.Index)}})
	}
	return flags
}

// degrees is a temperature without its unit and without a useless ".0".
func degrees(shown float64) string {
	if r := math.Round(shown*10) / 10; r != math.Trunc(r) {
		return fmt.Sprintf("%.1f", r)
	}
	return fmt.Sprintf("%.0f", math.Round(shown))
}

// nameTries are what is tried for names.
func nameTries(f frame) []try {
	if f.large {
		return []try{{0, 1}, {0, 2}, {1, 2}, {0, 3}, {1, 4}, {2, 4}, {3, 3}}
	}
	return []try{{1, 1}, {0, 2}, {1, 2}, {1, 3}, {1, 4}, {2, 4}, {3, 3}}
}

// flags draws flags above a line at y, their first row at top, and the lines
// from them down to foot.
func (k *ink) flags(all []placed, f frame, top, foot float64) {
	for _, p := range all {
		base := top + float64(p.row)*f.row()
		from := base - f.letters + 3
		if p.text == "" {
			from = base
		}
		k.line(p.x, from, p.x, foot, "mw-flag")
	}
	for _, p := range all {
		k.text(p.from, top+float64(p.row)*f.row(), "mw-halo", "start", p.text)
	}
}

// row is the height of a line of text.
func (f frame) row() float64 { return f.letters + 4 }
