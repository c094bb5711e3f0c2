package account

import (
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"
)

// Table is a comparison in words, for a terminal and for a page.
type Table struct {
	A, B    string // who they are, in one line
	Changed []Change
	Blocks  []Block
}

// Block is some rows below one title.
type Block struct {
	Title string
	Rows  []Row
}

// Row is one figure of both and its difference.
type Row struct{ Name, A, B, Difference string }

// nothing stands where a figure is not known.
const nothing = "–"

// Scale is how temperatures are shown.
type Scale struct {
	Sign  string
	Of    func(celsius float64) float64 // a temperature
	Gap   func(celsius float64) float64 // a difference
	Words func(string) string           // those in a text
}

// celsius leaves all as it is.
func celsius() Scale {
	same := func(c float64) float64 { return c }
	return Scale{"°C", same, same, func(text string) string { return text }}
}

// Table is the comparison in words, on one scale.
func (c *Comparison) Table(in Scale) Table {
	t := Table{A: c.A.words(), B: c.B.words()}
	for _, d := range c.Changed {
		t.Changed = append(t.Changed, Change{d.Subject, d.What, in.Words(d.A), in.Words(d.B)})
	}
	t.Blocks = append(t.Blocks, Block{"The day", rows(c.Figures, in)})
	if len(c.Windows) > 0 {
		b := Block{Title: "The mash was, by window"}
		for _, w := range c.Windows {
			f := Figure{words: in.Words(fmt.Sprintf("%.0f to %.0f °C", w.Low, w.High)), clock: true}.with(w.A, w.B)
			b.Rows = append(b.Rows, f.row(in))
		}
		t.Blocks = append(t.Blocks, b)
	}
	for _, s := range c.Steps {
		title := in.Words(s.Title)
		switch {
		case s.A == nil:
			title += " (only B)"
		case s.B == nil:
			title += " (only A)"
		}
		t.Blocks = append(t.Blocks, Block{title, rows(s.Figures, in)})
	}
	return t
}

func rows(figures []Figure, in Scale) []Row {
	var out []Row
	for i := range figures {
		out = append(out, figures[i].row(in))
	}
	return out
}

func (f *Figure) row(in Scale) Row {
	turn, gap := in.Gap, in.Gap
	switch f.warm {
	case noWarmth:
		turn = celsius().Of
		gap = turn
	case aLevel:
		turn = in.Of
	case aGap:
	}
	r := Row{strings.Replace(f.words, "°C", in.Sign, 1), f.text(f.A, turn), f.text(f.B, turn), nothing}
	if f.Difference != nil {
		r.Difference = f.text(f.Difference, gap)
		if strings.Trim(r.Difference, "-0.:") == "" {
			r.Difference = "0"
		} else if *f.Difference > 0 {
			r.Difference = "+" + r.Difference
		}
	}
	return r
}

// text is the figure as a person reads it.
func (f *Figure) text(v *float64, turn func(float64) float64) string {
	if v == nil {
		return nothing
	}
	if f.clock {
		return minutes(*v)
	}
	return fmt.Sprintf("%.*f", f.places, turn(*v)*f.factor)
}

// minutes is h:mm:ss, or m:ss below an hour.
func minutes(seconds float64) string {
	sign, s := "", int(math.Round(math.Abs(seconds)))
	if seconds < 0 && s > 0 {
		sign = "-"
	}
	if s >= 3600 {
		return fmt.Sprintf("%s%d:%02d:%02d", sign, s/3600, s/60%60, s%60)
	}
	return fmt.Sprintf("%s%d:%02d", sign, s/60, s%60)
}

// words are who a batch is.
func (s *Side) words() string {
	name := s.Profile
	if name == "" {
		name = "without a name"
	}
	if s.Began != "" {
		name += ", begun " + strings.Replace(strings.TrimSuffix(s.Began, "Z"), "T", " ", 1)
	}
	if s.Simulated {
		name += " (simulated)"
	}
	return name + "; " + s.Outcome + " after " + length(s.Duration)
}

// Text writes a comparison for a person, in lines of at most 80 characters but for
// what a profile has that is longer.
func (c *Comparison) Text(w io.Writer) error {
	t := c.Table(celsius())
	var b strings.Builder
	fmt.Fprintf(&b, "A  %s\nB  %s\n\nWhat differs\n", strings.Replace(t.A, "; ", "\n   ", 1), strings.Replace(t.B, "; ", "\n   ", 1))
	if len(t.Changed) == 0 {
		b.WriteString("  nothing: profile, kettle, program, surroundings and persons were the same\n")
	}
	for _, d := range t.Changed {
		fmt.Fprintf(&b, "  %s: %s\n    A  %s\n    B  %s\n", d.Subject, d.What, or(d.A), or(d.B))
	}
	for _, block := range t.Blocks {
		fmt.Fprintf(&b, "\n%s %s %s %s\n", padded(block.Title, 38), right("A", 11), right("B", 11), right("B - A", 11))
		for _, r := range block.Rows {
			fmt.Fprintf(&b, "%s %s %s %s\n", padded("  "+r.Name, 38), right(r.A, 11), right(r.B, 11), right(r.Difference, 11))
		}
	}
	b.WriteString("\nTimes are minutes:seconds or hours:minutes:seconds. Temperatures are those of\n" +
		"the estimate. Evaporation by heat is an estimate: power above the loss.\n")
	_, err := io.WriteString(w, b.String())
	return err
}

func or(text string) string {
	if text == "" {
		return nothing
	}
	return text
}

func padded(text string, width int) string {
	return text + strings.Repeat(" ", max(0, width-utf8.RuneCountInString(text)))
}

func right(text string, width int) string {
	return strings.Repeat(" ", max(0, width-utf8.RuneCountInString(text))) + text
}
