package say

import (
	"fmt"

	"mashward/controller"
)

const barred = "Heat is off: by what was said the element or the probe is bare. Still live: isolate before reaching in. Top up, read the kettle, and say its volume."

// deed is what a person told of the kettle, as a sentence.
func deed(e controller.Event) string {
	switch e.Kind {
	case controller.WaterAdded:
		return fmt.Sprintf("%.1f L went in, counted cold.", e.Value)
	case controller.MixForeseen:
		return fmt.Sprintf("Mixed, that makes %.1f °C.", e.Value)
	case controller.MixDoubted:
		return fmt.Sprintf("The water that was told of does not show: the probe reads %.1f °C, and is believed; the water is not counted. If it did go in, read the kettle and say its volume.", e.Value)
	case controller.WaterTaken:
		return fmt.Sprintf("%.1f L were taken out, counted cold.", e.Value)
	case controller.VolumeRead:
		return fmt.Sprintf("The kettle holds %.1f L, counted cold and without the grain.", e.Value)
	case controller.HeatBarred:
		return barred
	case controller.LidMoved:
		if e.Value > 0 {
			return "The lid is off."
		}
		return "The lid is on."
	}
	return ""
}
