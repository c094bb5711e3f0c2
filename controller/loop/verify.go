package loop

import (
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/verify"
)

// rules are what the checks may find, as the interlock knows them. Checks and
// interlock do not know each other, so the two lists meet here.
var rules = [...]interlock.Rule{
	verify.Nothing:         interlock.NoRule,
	verify.NotHeating:      interlock.NotHeating,
	verify.HeatingWhileOff: interlock.HeatingWhileOff,
	verify.TooFast:         interlock.TooFast,
	verify.ProbeOut:        interlock.ProbeOut,
	verify.ProbeStuck:      interlock.ProbeStuck,
	verify.PumpStopped:     interlock.PumpStopped,
	verify.EnergyBudget:    interlock.EnergyBudget,
}

// RuleOf is the interlock's rule of a finding.
func RuleOf(f verify.Finding) interlock.Rule {
	if int(f.Kind) < len(rules) {
		return rules[f.Kind]
	}
	return interlock.Implausible // unknown: still a reason to withhold heat
}

// Checked is what the checks may know: reading, applied power, and what stands
// in the kettle; never a target or a wish.
func Checked(t *controller.Tick, s *controller.State, d *controller.Decision) verify.Tick {
	return verify.Tick{
		Now: t.Now, Reading: t.Reading, Applied: t.Applied, Load: s.Load, Over: s.Mode.Ended(),
		Pump: d.Pump, Bed: s.GrainIn && !s.Lifted && !s.Mode.Ended(), Busy: handled(s), Open: s.Lifted, LidOff: s.Deeds.LidOff, Chiller: s.ChillerOn, Metal: s.ColdMetal > 0,
		Told: told(d),
	}
}

// told tells that a person told of water that went in or out, or of a volume, or
// that his word was taken back: the load has changed by a word.
func told(d *controller.Decision) bool {
	for _, e := range d.Events[:d.Count] {
		switch e.Kind {
		case controller.WaterAdded, controller.WaterTaken, controller.VolumeRead, controller.MixDoubted:
			return true
		}
	}
	return false
}

// handled tells that a person has his hands in the kettle, by what the batch
// waits for.
func handled(s *controller.State) bool {
	if !s.Mode.Heats() {
		return false
	}
	return s.AskedGrain || s.Stage == controller.Pour || s.Stage == controller.Hoist
}
