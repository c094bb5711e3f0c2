package picture

import (
	"bytes"
	"encoding/xml"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// ink is an SVG being written. Numbers have one decimal: a tenth of a point.
type ink struct{ bytes.Buffer }

// put writes parts one after the other: strings as they are, numbers rounded.
func (k *ink) put(parts ...any) {
	for _, p := range parts {
		switch p := p.(type) {
		case string:
			k.WriteString(p)
		case float64:
			k.WriteString(number(p))
		}
	}
}

// words writes text of any origin, escaped.
func (k *ink) words(s string) {
	// A bytes.Buffer takes everything.
	_ = xml.EscapeText(&k.Buffer, []byte(s))
}

// text writes a line of text. anchor is start, middle or end.
func (k *ink) text(x, y float64, class, anchor, s string) {
	k.put(`<text x="`, x, `" y="`, y, `" class="`, class, `"`)
	if anchor != "start" {
		k.put(` text-anchor="`, anchor, `"`)
	}
	k.put(`>`)
	k.words(s)
	k.put("</text>\n")
}

// line writes a straight line.
func (k *ink) line(x1, y1, x2, y2 float64, class string) {
	k.put(`<path d="M`, x1, ` `, y1, `L`, x2, ` `, y2, `" class="`, class, "\"/>\n")
}

// box writes a rectangle; a fill that is not the class's is a pattern's id.
func (k *ink) box(x, y, width, height float64, class, pattern string) {
	k.put(`<rect x="`, x, `" y="`, y, `" width="`, max(0, width), `" height="`, height, `" class="`, class, `"`)
	if pattern != "" {
		k.put(` fill="url(#`, pattern, `)"`)
	}
	k.put("/>\n")
}

// number writes a figure to a tenth, as short as it goes.
func number(x float64) string {
	if !known(x) {
		return "0"
	}
	x = math.Round(x*10) / 10
	if x == 0 {
		return "0" // never -0
	}
	s := strconv.FormatFloat(x, 'f', -1, 64)
	if rest, ok := strings.CutPrefix(s, "0."); ok {
		return "." + rest
	}
	if rest, ok := strings.CutPrefix(s, "-0."); ok {
		return "-." + rest
	}
	return s
}

// extent is how wide a text comes out at a letter size. Fonts differ; it is
// meant to be rather too much.
func extent(s string, size float64) float64 {
	total := 0.0
	for _, r := range s {
		switch {
		case strings.ContainsRune("iljtfrI.,:;'|()[]!- ", r):
			total += 0.36
		case r == 's' || r == '°' || r == 'c':
			total += 0.55
		case strings.ContainsRune("mwMW@%", r) || r > 0x2e80:
			total += 1
		case r >= 'A' && r <= 'Z':
			total += 0.72
		default:
			total += 0.61
		}
	}
	return total * size
}

// clipped shortens a text to a width, with an ellipsis.
func clipped(s string, size, width float64) string {
	if extent(s, size) <= width {
		return s
	}
	for s != "" {
		_, last := utf8.DecodeLastRuneInString(s)
		s = s[:len(s)-last]
		if extent(s+"…", size) <= width {
			return strings.TrimRight(s, " ,.") + "…"
		}
	}
	return ""
}

// wrapped breaks a text into lines of a width.
func wrapped(s string, size, width float64) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(s) {
		switch {
		case line == "":
			line = word
		case extent(line+" "+word, size) <= width:
			line += " " + word
		default:
			lines = append(lines, clipped(line, size, width))
			line = word
		}
	}
	return append(lines, clipped(line, size, width))
}
