package schema

// expectation is one entry of what is expected, in the forms the reader takes.
func expectation() *node {
	temperature := func(title, about, example string) *node {
		return figure{of: celsius, title: title, about: about, from: "0 °C", to: "100 °C", example: example}.node()
	}
	time := func(title, about, example string) *node {
		return figure{of: duration, title: title, about: about, from: "1 s", to: "1 d", example: example}.node()
	}
	step := must("step", count("Step", "Which entry of the steps, the first being 1.", 1, most))
	return &node{Title: "Expectation", OneOf: []*node{
		mapping("Never above", "How hot the mash may become in a step.", step,
			must("never_above", temperature("Highest mash", "Of the true mash, from the start of a mash-in, rest or mash-out to its end; not below its target.", "64 °C"))),
		mapping("Reached within", "When a step has to be at its target.", step,
			must("reached_within", time("Time to get there", "From when the grain is in; without grain, from arming. Of any step but a lift and a chill.", "40 min"))),
		mapping("Counted at least", "How long a step has to last at its target.", step,
			must("counted_at_least", time("Time counted", "By the clock of the rest or the boil; not above what the step is written with.", "35 min"))),
		mapping("Strike at most", "How hot the strike water may become.",
			must("strike_at_most", temperature("Highest strike water", "Until the grain goes in.", "72 °C"))),
		mapping("Done within", "When the day has to be over.",
			must("done_within", time("Length of the day", "From arming to the end of the last step.", "5 h 30 min"))),
		mapping("Energy at most", "What the element may put in.",
			must("energy_at_most", figure{of: energy, title: "Energy", about: "Over the whole day.", from: "0.1 kWh", to: "200 kWh", example: "9 kWh"}.node())),
	}}
}
