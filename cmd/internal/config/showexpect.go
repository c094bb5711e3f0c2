package config

import (
	"fmt"
	"strings"

	"mashward/profile"
)

// showExpect writes what a profile expects, if it does.
func showExpect(b *strings.Builder, all []profile.Expectation) {
	for i, e := range all {
		if i == 0 {
			b.WriteString("expect:\n")
		}
		step, bound := "", ""
		if e.Promise.OfStep() {
			step = fmt.Sprintf("step: %d, ", e.Step)
		}
		switch e.Promise {
		case profile.NeverAbove, profile.StrikeAtMost:
			bound = temperature(e.Temperature)
		case profile.ReachedWithin, profile.CountedAtLeast, profile.DoneWithin:
			bound = lasting(e.Time)
		case profile.EnergyAtMost:
			bound = energy(e.Energy)
		}
		fmt.Fprintf(b, "  - {%s%s: %s}\n", step, e.Promise, bound)
	}
}
