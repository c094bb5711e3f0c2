package say

import (
	"fmt"
	"math"
	"strings"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile/gravity"
)

// Sentence is an event as a sentence, with the figures of the command of its tick;
// empty for those that people need not read.
func (d Day) Sentence(e controller.Event, c controller.Command) string {
	if e.Kind == controller.Accepted {
		return Told(c)
	}
	return d.Event(e)
}

// Told is what a person read or weighed, as a sentence; empty for a command that
// has events of its own.
func Told(c controller.Command) string {
	switch c.Wish {
	case controller.GrainIs:
		return fmt.Sprintf("The grain weighs %.2f kg and is %.1f °C warm.", float64(c.Grain), c.At)
	case controller.ThermometerSays:
		return fmt.Sprintf("Another thermometer says %.1f °C.", c.At)
	case controller.PHIs:
		return told(c)
	case controller.GravityIs:
		return fmt.Sprintf("Read: %s by %s in a sample of %.1f °C.", reading(c), c.Instrument, c.At)
	case controller.PumpStands:
		return "The pump was found standing: it is off, and once it runs again the kettle mixes before it is heated."
	}
	return ""
}

// reading is what the instrument showed, in its scale.
func reading(c controller.Command) string {
	switch c.Instrument {
	case gravity.Saccharometer:
		return unit.FormatPlato(unit.Plato(c.Value))
	case gravity.Refractometer:
		return unit.FormatBrix(unit.Brix(c.Value))
	}
	return unit.FormatSpecificGravity(unit.SpecificGravity(c.Value))
}

// The pH of a mash falls as it gets warmer: by some 0.3 from 20 °C to 65 °C (common
// practice, no source). A meter's own compensation corrects its electrode, not that.
const (
	pHFall     = 0.3 / 45 // 1/K
	coolSample = 20       // °C, of a pH as recipes give it
	warmSample = 30       // °C, above which a pH is said to be of a warm sample
	usualLow   = 5.2      // of a mash, in a cool sample (common practice, no source)
	usualHigh  = 5.6
	warmMash   = 65 // °C
)

// told is a pH with what it means at the temperature it was read at.
func told(c controller.Command) string {
	var b strings.Builder
	fmt.Fprintf(&b, "pH %.2f in a sample of %.1f °C", c.Value, c.At)
	cool := c.Value
	if at := spot(c.Spot); at != "" {
		b.WriteString(", " + at)
	}
	b.WriteString(". ")
	if c.At > warmSample {
		cool += pHFall * (float64(c.At) - coolSample)
		fmt.Fprintf(&b, "So warm it reads lower: cooled to %d °C the sample would show about %.1f (common practice).", coolSample, cool)
	} else {
		fmt.Fprintf(&b, "In a mash of %d °C it is some %.1f lower (common practice).", warmMash, pHFall*(warmMash-coolSample))
	}
	if c.Spot != controller.NoSpot {
		cool = math.Round(cool*100) / 100
		switch {
		case cool < usualLow:
			fmt.Fprintf(&b, " A mash is usually between %.1f and %.1f, cool: this is lower.", usualLow, usualHigh)
		case cool > usualHigh:
			fmt.Fprintf(&b, " A mash is usually between %.1f and %.1f, cool: this is higher.", usualLow, usualHigh)
		}
	}
	return b.String()
}

// spot is where a sample came from.
func spot(s controller.Spot) string {
	switch s {
	case controller.SpotMiddle:
		return "from the middle of the bed"
	case controller.SpotTop:
		return "from the wort above the bed"
	case controller.SpotOutlet:
		return "from the tap or the hose"
	case controller.SpotStirred:
		return "of the mash as it was stirred"
	case controller.NoSpot:
	}
	return ""
}

// note is what came of a reading, as a sentence.
func note(e controller.Event) string {
	switch e.Kind {
	case controller.StrikeMoved:
		return fmt.Sprintf("The strike water is to be at %.1f °C for that.", e.Value)
	case controller.WaterUncounted:
		return fmt.Sprintf("%.1f L that were told of are not counted.", e.Value)
	case controller.ProbeUncompared:
		return "While the kettle heats or mixes, or nothing flows at the probe, the two need not agree: say it again in a rest."
	case controller.GravityRead:
		return fmt.Sprintf("That is a gravity of %.4f at 20 °C.", e.Value)
	case controller.ProbeDiffers:
		return differs(e.Value)
	}
	return "" // what was read stands in the sentence of the command
}

func differs(off float64) string {
	word := "above"
	if off < 0 {
		word = "below"
	}
	text := fmt.Sprintf("That is %.1f °C %s the probe", math.Abs(off), word)
	if math.Abs(off) < float64(controller.ProbeDoubt) {
		return text + ", which goes on to heat and to protect: nothing is changed."
	}
	return text + ": one of the two is wrong. Nothing is changed, the probe goes on to heat and to protect. Try both in ice water, and press STOP if it is the probe."
}
