package view

import "mashward/controller/interlock"

// Cause is why heat is withheld, as a sentence.
func Cause(r interlock.Rule) string {
	switch r {
	case interlock.Stale:
		return "The probe has given no good reading for more than 5 s."
	case interlock.Implausible:
		return "The probe's reading is one that physics does not allow."
	case interlock.OverTemperature:
		return "The kettle is hotter than this batch may be."
	case interlock.NotArmed:
		return "Nobody has armed this batch."
	case interlock.Empty:
		return "The level is too near the element."
	case interlock.OnTooLong:
		return "The element was on for longer than the plan can need."
	case interlock.TickLate:
		return "The controller was away for longer than it may be."
	case interlock.NotHeating:
		return "Power went in and the temperature did not rise."
	case interlock.HeatingWhileOff:
		return "The temperature rises although the element is off: isolate the kettle at the breaker now."
	case interlock.TooFast:
		return "The temperature rises faster than this load allows: the kettle may be low or dry."
	case interlock.ProbeOut:
		return "The probe seems to have left the liquid."
	case interlock.ProbeStuck:
		return "The probe's reading no longer moves."
	case interlock.PumpStopped:
		return "There is no flow where flow is needed."
	case interlock.EnergyBudget:
		return "More energy went in than the whole batch can need."
	}
	return "Heat is withheld."
}
