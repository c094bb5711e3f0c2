package loop

import (
	"mashward/controller"
	"mashward/controller/interlock"
)

// reasons are the interlock's rules as the batch knows them. The core must not
// import the interlock, so the two lists meet here.
var reasons = [...]controller.Reason{
	interlock.NoRule:          controller.NoReason,
	interlock.Stale:           controller.Stale,
	interlock.Implausible:     controller.Implausible,
	interlock.OverTemperature: controller.OverTemperature,
	interlock.NotArmed:        controller.NotArmed,
	interlock.Empty:           controller.Empty,
	interlock.OnTooLong:       controller.OnTooLong,
	interlock.TickLate:        controller.TickLate,
	interlock.NotHeating:      controller.NotHeating,
	interlock.HeatingWhileOff: controller.HeatingWhileOff,
	interlock.TooFast:         controller.TooFast,
	interlock.ProbeOut:        controller.ProbeOut,
	interlock.ProbeStuck:      controller.ProbeStuck,
	interlock.PumpStopped:     controller.PumpStopped,
	interlock.EnergyBudget:    controller.EnergyBudget,
}

// reasonOf is why a trip holds the batch.
func reasonOf(r interlock.Rule) controller.Reason {
	if int(r) < len(reasons) {
		return reasons[r]
	}
	return controller.NotArmed // unknown: still a reason to hold
}
