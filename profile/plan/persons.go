package plan

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"mashward/profile"
)

const (
	// chillerIn is how long before the end of a boil the chiller goes in, so
	// that it is scalded (common practice, no source).
	chillerIn = 10 * time.Minute
	// loopIn is how long before the end of a boil the pump scalds its loop.
	loopIn = 10 * time.Minute
)

// callPersons lists every moment at which somebody is needed, in order.
func (d *day) callPersons() {
	d.call(0, 0, "fill", d.fillSentence())
	for _, s := range d.plan.Steps {
		if s.Kind != profile.Lift { // where they go in when the grain hangs clear
			d.callAdditions(s)
		}
		switch s.Kind {
		case profile.Strike:
			if d.profile.Use == profile.WaterBrew {
				d.call(s.End, 0, "pour", "Say that you pour now: heat and pump go off. Pour nothing, and say that all of it is in. The water waits for you for two hours.")
				continue
			}
			d.call(s.End, 0, "pour", fmt.Sprintf("Say that you pour now: heat and pump go off. Stir in %s of grain without lumps, "+
				"and say when all of it is in. Strike water waits for you for two hours.", kilograms(d.profile.Grain.Mass)))
		case profile.Lift:
			d.call(s.Start, s.Index, "lift", "Lift the grain clear of the wort and lock the hoist. Say that the grain is clear and the element covered; "+
				"when it has drained, say how much wort there is.")
			d.callAdditions(s)
		case profile.Boil:
			d.callBoil(s)
		case profile.Chill:
			d.call(s.Start, s.Index, "chill", fmt.Sprintf("Open the chiller's water and stir gently until the wort is at %.0f °C. The heat is off by itself.", s.Ends))
			if s.Ends > s.Target {
				d.call(s.End, s.Index, "tap", fmt.Sprintf("It gets no colder than about %.0f °C with this tap: end the chill, or put ice on the way of its water.", s.Ends))
			}
		}
	}
	if len(d.plan.Steps) > 0 && d.plan.Finish > 0 {
		d.call(d.plan.Finish, d.plan.Steps[len(d.plan.Steps)-1].Index, "end", "End the batch and isolate the kettle before you empty and clean it.")
	}
	slices.SortStableFunc(d.plan.Persons, func(a, b Person) int { return cmp.Compare(a.At, b.At) })
}

func (d *day) call(at time.Duration, step int, of, what string) {
	d.plan.Persons = append(d.plan.Persons, Person{At: at, Step: step, Of: of, What: what})
}

func (d *day) fillSentence() string {
	depth := ""
	if v := d.plan.Volumes[0]; v.Depth > 0 {
		depth = fmt.Sprintf(" (%.1f cm deep)", float64(v.Depth)*100)
	}
	see := "see that the valve is shut"
	if d.profile.Grain.Mass > 0 || d.profile.Use == profile.WaterBrew {
		see = "see that bag or false bottom is clear of the element and the valve shut"
	}
	if d.kettle.Pump {
		see += ", that the hoses are clamped"
	}
	return fmt.Sprintf("Fill %.1f L of cold water%s, %s, press the test button of the RCD, and arm.", float64(d.profile.Water), depth, see)
}

// callBoil asks for somebody at the waiting point, at each addition, and for
// what goes in near the end.
func (d *day) callBoil(s Step) {
	if s.Gentle > 0 {
		d.call(s.Reached-s.Gentle, s.Index, "break", fmt.Sprintf("Take the lid off, say that you are here, and stay through the hot break: it can foam over. "+
			"The climb waits for you at %.0f °C.", d.plan.Boiling.Plus(-breakBelow)))
	}
	if s.End-chillerIn >= s.Reached && d.chills(s.Index) {
		d.call(s.End-chillerIn, s.Index, "chiller", "Hang in the chiller, so that the boil scalds it. The boil may stop for a few minutes; its clock does not.")
	}
	if s.End-loopIn >= s.Reached && d.kettle.Pump && d.kettle.InBoil {
		d.call(s.End-loopIn, s.Index, "loop", "The pump starts, to scald its loop: see that the hoses hold.")
	}
}

// chills tells whether a chill follows entry index.
func (d *day) chills(index int) bool {
	return slices.ContainsFunc(d.profile.Steps[index:], func(s profile.Step) bool { return s.Kind == profile.Chill })
}
