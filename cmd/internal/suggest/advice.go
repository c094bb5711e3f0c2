package suggest

import (
	"fmt"
	"math"

	"mashward/cmd/internal/wort"
	"mashward/controller/unit"
)

// What is said of a boil and of a probe. By two volumes read to 1 % of the kettle's
// water the boil-off came within 7 % in the median on random kettles; thermometers
// in the kitchen agree to half a kelvin.
const (
	boilDiffers              = 0.15
	probeDiffers unit.Kelvin = 0.5
	probeSpread  unit.Kelvin = 1 // of several comparisons: beyond it one was misread
)

// Advise is what the readings of a batch suggest, a paragraph each; nothing is
// changed by it.
func Advise(f *wort.Follower) []string {
	all := []string{}
	for _, text := range []string{boilOff(f), offset(f.Compared())} {
		if text != "" {
			all = append(all, text)
		}
	}
	return all
}

// boilOff tells where a boil took another volume an hour than was asked of it.
func boilOff(f *wort.Follower) string {
	b, known := f.Boiled()
	if !known || !(b.Asked > 0) || math.Abs(float64(b.Took/b.Asked)-1) < boilDiffers {
		return ""
	}
	text := fmt.Sprintf("The boil took %s, by the %s that were read, and %s were asked of it. More or less power or loss than declared does that, or a lid. For as much in the end, count with %s in the plan.",
		litresPerHour(b.Took), b.By, litresPerHour(b.Asked), litresPerHour(b.Took))
	if write := 2*b.Asked - b.Took; write > b.Asked/4 {
		text += fmt.Sprintf(" To really boil off %s in this kettle, write boil_off: %s.", litresPerHour(b.Asked), litresPerHour(write))
	}
	return text
}

func litresPerHour(r unit.LitresPerSecond) string { return fmt.Sprintf("%.1f L/h", float64(r)*3600) }

// offset tells of a thermometer that stood beside the probe at rest.
func offset(c wort.Compared) string {
	if c.Count == 0 {
		return ""
	}
	mean := c.Sum / unit.Kelvin(c.Count)
	switch {
	case c.Highest-c.Lowest > probeSpread:
		return fmt.Sprintf("Another thermometer stood beside the probe %s, by between %+.1f °C and %+.1f °C: one that differs so differently was misread, or sat elsewhere.", times(c.Count), c.Lowest, c.Highest)
	case math.Abs(float64(mean)) < float64(probeDiffers):
		return ""
	}
	word, other := "above", "warmer"
	if mean < 0 {
		word, other = "below", "colder"
	}
	return fmt.Sprintf("Another thermometer stood %.1f °C %s the probe, %s at rest. Try both in ice water. If the probe is wrong, the mash was %s than shown by that: change the probe, or until then plan the targets with it in mind. Nothing is corrected, for heat and its limit go by the probe alone.",
		math.Abs(float64(mean)), word, times(c.Count), other)
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}
