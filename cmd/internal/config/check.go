package config

import (
	"fmt"

	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/profile/strict"
)

// Check holds a profile against a rig: whether the mash fits the kettle,
// whether element and probe stay covered at the lowest level of the day,
// whether the probe sees the boil, whether every target is in reach. The plan
// knows; here its problems get the place in the profile they belong to.
func Check(p profile.Profile, r Rig) []strict.Fault {
	_, problems := plan.Make(p, r.PlanKettle())
	var faults []strict.Fault
	for _, problem := range problems {
		line := problem.Line
		if line == 0 {
			line = p.Line // about the load as a whole
		}
		faults = append(faults, strict.Fault{
			File: p.File, Line: line, What: problem.What, Remedy: problem.Remedy, Warning: !problem.Refused,
		})
	}
	faults = append(faults, boiledOver(p, r)...)
	strict.Sort(faults)
	return faults
}

// boiledOver refuses a rest that water boils away from at this altitude.
func boiledOver(p profile.Profile, r Rig) []strict.Fault {
	var faults []strict.Fault
	for _, s := range p.Steps {
		if s.Kind == profile.Chill || s.Target < r.Boiling() {
			continue
		}
		faults = append(faults, strict.Fault{
			File: p.File, Line: s.Line,
			What:   fmt.Sprintf("%s: %s is out of reach where water boils at %s", s.Kind, unit.FormatCelsius(s.Target), unit.FormatCelsius(r.Boiling())),
			Remedy: "write a lower temperature, or boil",
		})
	}
	return faults
}
