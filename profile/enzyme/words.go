package enzyme

import (
	"fmt"
	"math"
	"strings"

	"mashward/controller/unit"
)

// Report is a mash as a whole, in the form in which programs get it.
type Report struct {
	Note  string    `json:"note"`   // must stand with every figure
	AtEnd *Estimate `json:"at_end"` // when the grain came out, or now; nil: not known
}

// Report is the mash as a whole; nil where no grain went in.
func (c *Course) Report() *Report {
	if !c.state.Begun {
		return nil
	}
	r := &Report{Note: Note}
	if e, known := c.state.Estimate(); known {
		r.AtEnd = &e
	}
	return r
}

// Of is what the last run of a step did; nil where nothing is known of it.
func (c *Course) Of(step int) *Rest {
	for i := len(c.done) - 1; i >= 0; i-- {
		if c.done[i].Step == step {
			return &c.done[i]
		}
	}
	return nil
}

// Words are the rests of a course as lines of at most 78 columns, with the title
// of each step; "" where no grain went in.
func (c *Course) Words(title func(step int) string) string {
	if !c.state.Begun {
		return ""
	}
	var b strings.Builder
	if len(c.done) > 0 {
		fmt.Fprintf(&b, "  %-20s%-14s%-14s%-14s%s\n", "in %", "beta left", "alpha left", "sugar made", "dextrin made")
	}
	for _, r := range c.done {
		name := fmt.Sprintf("%d %s", r.Step, title(r.Step))
		fmt.Fprintf(&b, "  %s%s%-14s%-14s%-14s%s\n", name, strings.Repeat(" ", max(1, 20-len([]rune(name)))),
			r.BetaLeft.figures(), r.AlphaLeft.figures(), r.Added.Sugar.figures(), r.Added.Dextrin.figures())
	}
	for _, r := range c.done {
		b.WriteString(r.remarks())
	}
	if e, known := c.state.Estimate(); known {
		fmt.Fprintf(&b, "  In all %s is gelatinised, %s made sugar,\n  %s left as dextrin.\n", e.Gelatinised, e.Sugar, e.Dextrin)
	} else {
		b.WriteString("  " + unknown + "\n")
	}
	b.WriteString("  An estimate: the middle, and in brackets where published figures disagree\n" +
		"  (Brandam 2003, Muller 1990). Enzymes are shares of what came with the malt,\n" +
		"  sugar and dextrin of the starch that beta-amylase can reach. To compare\n" +
		"  mashes; it foretells no attenuation, and says nothing of the foam and body\n" +
		"  that a rest above 70 °C is kept for.\n")
	return b.String()
}

// Sentences are the same, a sentence a rest, unbroken.
func (c *Course) Sentences(title func(step int) string) []string {
	if !c.state.Begun {
		return nil
	}
	var all []string
	for _, r := range c.done {
		text := fmt.Sprintf("%s makes %s sugar and opens %s; %s of the beta-amylase and %s of the alpha-amylase are left.",
			title(r.Step), r.Added.Sugar, r.Added.Dextrin, r.BetaLeft, r.AlphaLeft)
		if r.NoSugar != nil || r.NoOpening != nil {
			words := r.spent()
			text += " " + strings.ToUpper(words[:1]) + words[1:] + "."
		}
		all = append(all, text)
	}
	if e, known := c.state.Estimate(); known {
		all = append(all, fmt.Sprintf("In all %s is gelatinised, %s made sugar, %s left as dextrin.", e.Gelatinised, e.Sugar, e.Dextrin))
	} else {
		all = append(all, unknown)
	}
	return append(all, about)
}

// What stands below, and what stands there where nothing is known.
const (
	about = "An estimate: the middle, and in brackets where published figures disagree (Brandam 2003, Muller 1990). " +
		"Enzymes are shares of what came with the malt, sugar and what is opened of the starch that beta-amylase can reach. " +
		"To compare mashes; it foretells no attenuation, and says nothing of the foam and body that a rest above 70 °C is kept for."
	unknown = "Not known to the end: the mash was out of 30 to 82 °C, or unseen for too long."
)

// remarks are the sentences on one rest that are worth one.
func (r *Rest) remarks() string {
	text := ""
	if r.NoSugar != nil || r.NoOpening != nil {
		text = fmt.Sprintf("  Step %d: %s.\n", r.Step, r.spent())
	}
	if r.Cost != nil && max(math.Abs(float64(r.Cost.Beta.High)), math.Abs(float64(r.Cost.Sugar.High))) >= worthAWord {
		text += fmt.Sprintf("  Step %d was up to %.1f °C too hot: cost %s of the beta-amylase,\n    %s of the sugar.\n",
			r.Step, r.Cost.Above, r.Cost.Beta, r.Cost.Sugar)
	}
	return text
}

// spent says since when a rest has had little to give.
func (r *Rest) spent() string {
	if r.Spent != nil && *r.Spent == 0 {
		return "hardly more of either once it is there"
	}
	var parts []string
	since := func(what string, at *float64) {
		switch {
		case at == nil:
		case *at == 0:
			parts = append(parts, what+" once it is there")
		default:
			parts = append(parts, fmt.Sprintf("%s after %.0f min there", what, *at/60))
		}
	}
	since("sugar", r.NoSugar)
	since("dextrin", r.NoOpening)
	return "hardly more " + strings.Join(parts, ", ")
}

// worthAWord is the share below which nothing is said of a loss.
const worthAWord = 0.01

// String is a band for a person: "42 % (24-58)".
func (b Band) String() string {
	low, mid, high := percent(b.Low), percent(b.Mid), percent(b.High)
	switch {
	case low == high:
		return fmt.Sprintf("%.0f %%", mid)
	case low < 0:
		return fmt.Sprintf("%.0f %% (%.0f to %.0f)", mid, low, high)
	}
	return fmt.Sprintf("%.0f %% (%.0f-%.0f)", mid, low, high)
}

// figures is the same for a column in per cent.
func (b Band) figures() string { return strings.Replace(b.String(), " %", "", 1) }

func percent(r unit.Ratio) float64 { return math.Round(100*float64(r)) + 0 }
