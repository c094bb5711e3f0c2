package rehearse

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"mashward/controller/unit"
)

// fewSeeds is how many of the runs that broke something are named in the text.
const fewSeeds = 8

// SpreadText writes a spread for a person; name is the profile's, u what the days
// were drawn from.
func SpreadText(w io.Writer, name string, u Unsure, s Spread) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%d rehearsals of %q, seeds %d to %d,\neach of another of the days that are left open.\n", s.Runs, name, s.Seed, s.Seed+uint64(s.Runs)-1)
	fmt.Fprintf(&b, "%d of %d were complete; heat was cut in %d.\n", s.Complete, s.Runs, s.Cut)
	for i, e := range s.Incomplete {
		if i == fewSeeds {
			fmt.Fprintf(&b, "  and %d more\n", len(s.Incomplete)-i)
			break
		}
		fmt.Fprintf(&b, "  seed %d: %s (%s)\n", e.Seed, outcomeWords(e.Outcome), e.Reason)
	}
	if s.Complete > 0 {
		fmt.Fprintf(&b, "\n%-24s%9s %9s %9s\n", "", "5 %", "median", "95 %")
	}
	spreadLine(&b, "finish", s.Duration, hours)
	spreadLine(&b, "energy", s.Energy, kilowattHours)
	s.writeSteps(&b)
	s.writePromises(&b)
	s.writeExample(&b)
	b.WriteString("\nHow the days differ: up to so far either way, drawn by their seeds\n" + u.method())
	_, err := io.WriteString(w, b.String())
	return err
}

func kilowattHours(joules float64) string {
	return fmt.Sprintf("%.2f kWh", unit.Joules(joules).KilowattHours())
}

func spreadLine(b *strings.Builder, title string, r *Range, words func(float64) string) {
	if r != nil {
		fmt.Fprintf(b, "%-24s%9s %9s %9s\n", title, words(r.Low), words(r.Median), words(r.High))
	}
}

func (s Spread) writeSteps(b *strings.Builder) {
	fmt.Fprintf(b, "\n%-21s%27s%24s\n", "", "to get there (min:s)", "too hot by (°C)")
	fmt.Fprintf(b, "%-21s%9s%9s%9s%8s%8s%8s\n", "step", "5 %", "median", "95 %", "5 %", "median", "95 %")
	for _, step := range s.Steps {
		if !step.targeted() {
			continue
		}
		title := fmt.Sprintf("%d %s %.1f °C", step.Index, step.Kind, *step.Target)
		line := title + strings.Repeat(" ", max(0, 21-len([]rune(title)))) + three(step.Reached, 9, clock) + three(step.Overshoot, 8, hundredths)
		if never := step.Begun - step.Arrived; never > 0 {
			line += fmt.Sprintf("  never in %d", never)
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
	b.WriteString("Figures are the true kettle's. What the probe reads wrong is in \"too hot\", and not in\nwhen a step was at its target.\n")
}

func hundredths(v float64) string { return fmt.Sprintf("%.2f", v) }

// three is a range in columns of some width; blank where there is none.
func three(r *Range, width int, words func(float64) string) string {
	if r == nil {
		return strings.Repeat(" ", 3*width)
	}
	return fmt.Sprintf("%*s%*s%*s", width, words(r.Low), width, words(r.Median), width, words(r.High))
}

func (s Spread) writePromises(b *strings.Builder) {
	if len(s.Expectations) == 0 {
		return
	}
	b.WriteString("\nPromised\n")
	digits := len(fmt.Sprint(s.Runs))
	for _, e := range s.Expectations {
		fmt.Fprintf(b, "  kept in %*d of %d  %s%s\n", digits, e.Kept, s.Runs, e.Words, e.was())
		for i, seed := range e.Broken {
			switch {
			case i == 0:
				fmt.Fprintf(b, "    BROKEN by seed %d", seed)
			case i < fewSeeds:
				fmt.Fprintf(b, ", %d", seed)
			case i == fewSeeds:
				fmt.Fprintf(b, " and %d more", len(e.Broken)-i)
			}
		}
		if len(e.Broken) > 0 {
			b.WriteString("\n")
		}
	}
}

// writeExample says how one of the days that were not good is looked at.
func (s Spread) writeExample(b *strings.Builder) {
	var seeds []uint64
	for _, e := range s.Incomplete {
		seeds = append(seeds, e.Seed)
	}
	for _, e := range s.Expectations {
		seeds = append(seeds, e.Broken...)
	}
	if len(seeds) > 0 {
		fmt.Fprintf(b, "\nTo look at one of the days that were not good, write --spread 1 --seed %d in the same call.\n", slices.Min(seeds))
	}
}

// was is what came of a promise in the middle nine tenths of the runs.
func (e SpreadExpectation) was() string {
	words, r := clock, e.WasSeconds
	switch {
	case e.WasCelsius != nil:
		words, r = func(v float64) string { return fmt.Sprintf("%.2f °C", v) }, e.WasCelsius
	case e.WasJoules != nil:
		words, r = kilowattHours, e.WasJoules
	case r != nil && e.Step == 0:
		words = hours
	case r == nil:
		return ""
	}
	return fmt.Sprintf(":\n    %s to %s, median %s", words(r.Low), words(r.High), words(r.Median))
}

// method says in short what Unsure draws; its table stands with the type.
func (u Unsure) method() string {
	kettle := "element -10 to +5 %, loss 25 %, vessel 10 %, lags by half, as the rig declares them"
	if u.Found != nil {
		kettle = fmt.Sprintf("element by the water test's doubt (%.1f %%), loss and lags 10 %%", 100*max(float64(u.Found.Doubt), leastDoubt))
	}
	text := "  " + kettle + ";\n  mains voltage 1 %, flow of the pump by a quarter, heat into the bed by half;\n" +
		"  probe 0.5 °C off, water 2 %, grain 1 % and 2 °C, what it keeps 15 %;\n" +
		"  room 3 °C, tap 2 °C, weather 0.7 °C of the boiling point, chiller 20 %"
	if u.Delay > 0 {
		text += ";\n  each prompt answered after up to " + unit.FormatDuration(u.Delay)
	}
	return text + ".\n"
}
