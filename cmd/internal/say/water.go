package say

import "mashward/controller"

// inWater is what a water brew asks instead of a brew; "" where it asks the same.
func inWater(p controller.Prompt) string {
	switch p {
	case controller.AskPour:
		return "Water brew: the water stands at its temperature. Pour nothing, and say so as if you poured: heat and pump go off first."
	case controller.AskGrainIn:
		return "Water brew: no grain goes in. Say that it is in. Heat and pump are off; hot water scalds."
	case controller.AskBagClear:
		return "Water brew: lift the empty bag, or go through the motions; try hoist and lock. Say so when it hangs and the water covers the element. Stand clear of hot drips."
	default:
		return ""
	}
}
