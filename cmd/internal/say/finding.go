package say

import (
	"fmt"

	"mashward/controller/unit"
	"mashward/controller/verify"
)

// Finding is what the model-based checks have found: what was to be expected and
// what came, what it may be, and what to do first.
func Finding(f verify.Finding) string {
	switch f.Kind {
	case verify.NotHeating:
		return "Power goes in and no heat comes" + figures(f) + ". It may be a breaker or cut-out that has tripped, an open element or one that stands dry, " +
			"a pump that has stopped, or a probe that hangs in the air. Isolate at the breaker first; then look at level, probe and element. " +
			"If the RCD has tripped, do not reset it again and again: call an electrician."
	case verify.HeatingWhileOff:
		return "Heat comes that was not switched on" + figures(f) + ". The relay may be welded: isolate at the breaker now, whatever the page says. " +
			"Then the relay is to be changed, and its heatsink looked at, by somebody who may do it."
	case verify.TooFast:
		return "It heats faster than what stands in the kettle allows" + figures(f) + ". There may be too little in it, a valve open or a hose off, or the probe touches the element. " +
			"Isolate at the breaker first, then look at the level and at the probe; pour nothing onto an element that was dry."
	case verify.ProbeOut:
		return "The reading falls as wort cannot" + figures(f) + ". The probe may hang in the air; much cold water beside it looks the same. " +
			"Isolate before reaching in, and put the probe back; heat returns by itself when the reading does within a minute."
	case verify.ProbeStuck:
		return "The reading stands still" + figures(f) + ". Probe, wire or chip may have frozen. Check with a second thermometer before anything else; change the probe."
	case verify.PumpStopped:
		return "The wort does not turn over" + figures(f) + ". The bed may be stuck, the pump may draw air or stand; a kettle that is nearly empty looks the same. " +
			"Look at the level first. Then pump off, loosen the bed, look for grain in the inlet or a kinked hose. " +
			"To go on: clear this, go on, and rest the bed for 3 min; the time the mash has earned stays."
	case verify.EnergyBudget:
		return "More energy went in than warmth, loss and steam can have taken" + figures(f) + ". The reading may be wrong, wort may have run out, the lid may be lost. " +
			"Compare with a second thermometer; look at level, valve and lid."
	}
	return ""
}

// figures are expected and measured, as a part of a sentence.
func figures(f verify.Finding) string {
	switch f.Of {
	case verify.OfPower:
		return fmt.Sprintf(": of late %.1f kW were given to the element, and it warms as if by %.1f kW", f.Expected/1000, f.Measured/1000)
	case verify.OfRise:
		return fmt.Sprintf(": by %.1f °C within 10 s, where %.1f °C are the most", f.Measured, f.Expected)
	case verify.OfFall:
		return fmt.Sprintf(": by %.1f °C, where %.1f °C within 10 s are the most", f.Measured, f.Expected)
	case verify.OfStanding:
		return fmt.Sprintf(": to the last digit for %.0f s, where it has to change within %.0f s", f.Measured, f.Expected)
	case verify.OfWarmth:
		return fmt.Sprintf(": %.1f °C are read, where all the heat put in makes %.1f °C at most", f.Measured, f.Expected)
	case verify.OfEnergy:
		return fmt.Sprintf(": by %.1f kWh", unit.Joules(f.Measured).KilowattHours())
	}
	return ""
}
