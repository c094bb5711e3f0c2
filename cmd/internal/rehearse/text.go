package rehearse

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"mashward/profile/plan"
)

// Text writes a result for a person: one sentence, one line a step, and what
// went wrong. Every figure of a step is the true kettle's, not the probe's.
func Text(w io.Writer, d plan.Plan, r Result) error {
	var b strings.Builder
	fmt.Fprintf(&b, "Rehearsal of %q on a simulated kettle: %s (%s) after %s.\n", d.Profile, outcomeWords(r.Outcome), r.Reason, hours(r.Duration))
	fmt.Fprintf(&b, "The element put in %s and was switched on %d times.\n\n", kilowattHours(r.Energy), r.Switches)
	b.WriteString("                         to get there          there    too hot    strays\n")
	b.WriteString("step                   plan      went     counted       by      within\n")
	for _, s := range r.Steps {
		b.WriteString(stepLine(s))
	}
	b.WriteString("\nTimes are minutes:seconds. \"Too hot\" is the highest the true mash went above\n" +
		"its target, \"strays\" the largest distance from it in the second half of the time there.\n")
	writeTroubles(&b, r)
	writeExpectations(&b, r)
	writeEnzymes(&b, r)
	_, err := io.WriteString(w, b.String())
	return err
}

// stepLine is one step in one line.
func stepLine(s Step) string {
	title := s.Kind
	if s.Target != nil {
		title = fmt.Sprintf("%s %.1f °C", s.Kind, *s.Target)
	}
	planned, went := "", "never"
	if s.PlannedHeat > 0 {
		planned = clock(s.PlannedHeat)
	}
	if s.Reached != nil {
		went = clock(*s.Reached)
	}
	if s.Target == nil {
		went = ""
	}
	counted := ""
	if s.Earned > 0 {
		counted = clock(s.Earned)
	}
	line := fmt.Sprintf("%d %s%s%9s %9s %11s %10s %10s", s.Index, title, strings.Repeat(" ", max(0, 17-len([]rune(title)))),
		planned, went, counted, difference(s.Overshoot), difference(s.HoldWorst))
	return strings.TrimRight(line, " ") + "\n"
}

// difference is a temperature difference as people write it.
func difference(k *float64) string {
	if k == nil || math.IsNaN(*k) {
		return ""
	}
	return fmt.Sprintf("%.2f °C", *k)
}

// writeEnzymes says what the true mash made of the malt.
func writeEnzymes(b *strings.Builder, r Result) {
	if r.Enzymes == nil {
		return
	}
	b.WriteString("\nMash enzymes over the true mash: an estimate\n")
	b.WriteString(r.mash.Words(func(step int) string {
		for _, s := range r.Steps {
			if s.Index == step && s.Target != nil {
				return fmt.Sprintf("%s %.1f °C", s.Kind, *s.Target)
			}
		}
		return ""
	}))
}

// writeTroubles lists heat cuts and alarms.
func writeTroubles(b *strings.Builder, r Result) {
	if len(r.Trips)+len(r.Cuts)+len(r.Alarms) == 0 {
		b.WriteString("No heat was cut and no alarm was raised.\n")
		return
	}
	b.WriteString("\nWhat went wrong\n")
	for _, t := range r.Trips {
		fmt.Fprintf(b, "  %s  heat cut, latched: %s\n", hours(t.At), t.ID)
	}
	for _, c := range r.Cuts {
		fmt.Fprintf(b, "  %s  heat cut: %s, %s\n", hours(c.From), c.ID, until(c.From, c.Until))
	}
	for _, a := range r.Alarms {
		fmt.Fprintf(b, "  %s  alarm: %s, %s\n", hours(a.Raised), a.ID, until(a.Raised, a.Cleared))
	}
}

func until(from float64, to *float64) string {
	if to == nil {
		return "to the end"
	}
	return "for " + clock(*to-from)
}

func outcomeWords(outcome string) string {
	switch outcome {
	case "complete":
		return "finished"
	case "stopped":
		return "ended by a person"
	case "aborted":
		return "ended by a fault"
	}
	return outcome
}

// clock is minutes:seconds.
func clock(seconds float64) string {
	s := int(math.Round(seconds))
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}

// hours is h:mm:ss.
func hours(seconds float64) string {
	d := time.Duration(seconds * float64(time.Second)).Round(time.Second)
	return fmt.Sprintf("%d:%02d:%02d", int(d.Hours()), int(d.Minutes())%60, int(d.Seconds())%60)
}
