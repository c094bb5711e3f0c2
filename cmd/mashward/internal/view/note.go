package view

import (
	"mashward/controller"
	"mashward/profile"
)

// notes are what a person may tell that he weighed, read or found. Grain is
// corrected before it is poured.
func notes(d *controller.Decision, c *controller.Config, add func(bool, controller.Wish)) {
	there := d.Mode.Heats() || d.Mode == controller.Held
	before := d.Kind == profile.Strike && c.First == 0 && c.Grain.Mass > 0 && d.Prompt != controller.AskDidGrainGo
	add(there && before, controller.GrainIs)
	add(there, controller.ThermometerSays)
	add(there, controller.PHIs)
	add(there, controller.GravityIs)
	add(there && c.HasPump, controller.PumpStands)
}
