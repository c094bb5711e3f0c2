package say

import (
	"fmt"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
)

// chiller is what is asked about the chiller, in and after the boil.
func (d Day) chiller(p controller.Prompt) string {
	switch p {
	case controller.AskScald:
		return "Hang in the chiller now, its water off, so that the boil scalds it. Nothing waits for it: the boil may stop for some minutes, its clock does not. Still live: isolate before reaching in."
	case controller.AskChillerWater:
		return "Open the chiller's water, and say when it runs. The heat is off; still live: isolate before reaching in."
	case controller.AskCoolToStand:
		return "The heat is off, and the wort falls to the stand by itself. Where that takes too long, hang in the chiller, open its water, and say when it runs. Still live: isolate before reaching in."
	case controller.AskColdest:
		return fmt.Sprintf("This is as cold as it gets: it has fallen by less than %.2f °C a minute for 5 min. End the chill here and cool on in the fridge, or put ice on the way of the water (tap: %.0f °C) and wait.",
			float64(controller.ColdSlope)*60, d.Config.Tap)
	}
	return ""
}

// plateau is where a chill has stopped falling.
func (d Day) plateau(at unit.Celsius) string {
	if at > d.Config.Tap.Plus(controller.ColdBand) {
		return fmt.Sprintf("It does not fall any more, at %.1f °C, and the tap should have %.0f °C: does the chiller's water run?", at, d.Config.Tap)
	}
	return fmt.Sprintf("This is as cold as it gets: %.1f °C. Cool on in the fridge.", at)
}

// boiled is an event of additions, of a boil and of what comes after it.
func (d Day) boiled(e controller.Event) string {
	length := Length(time.Duration(e.Value * float64(time.Second)))
	switch e.Kind {
	case controller.AdditionIn:
		return "In: " + d.Addition(int(e.Value)) + "."
	case controller.DelayOffered:
		return fmt.Sprintf("It came %s late. The boil is as long as planned, unless you make it longer by the delay.", length)
	case controller.BoilExtended:
		return fmt.Sprintf("The boil is %s longer, by the delay.", length)
	case controller.ChillerScalds:
		return "The chiller hangs in the boil."
	case controller.ChillForeseen:
		return fmt.Sprintf("Tap water of %.0f °C cools no further than to about %.0f °C.", d.Config.Tap, e.Value)
	}
	return ""
}
