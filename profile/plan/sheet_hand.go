package plan

import (
	"fmt"

	"mashward/controller/unit"
	"mashward/profile"
)

// byHand is what to do without the computer, from the step it died in.
func (s sheet) byHand() []string {
	out := []string{"BY HAND, IF THE COMPUTER DIES"}
	out = append(out, lines("", "The element goes off by itself within seconds; if not, isolate at the breaker. Never bridge its relay. Heat again only "+
		"through a control of its own that a licensed electrician has made for it, with a second thermometer in the wort and a person beside it. "+
		"Without one, isolate, leave the lid on and end the mash as it is: "+fmt.Sprintf("it falls by about %.0f °C an hour.", s.fallsBy()))...)
	out = append(out, lines("", "Do what is left of the step it died in, then the next. Switch off 1 °C below a temperature, since it climbs on; "+
		"to keep it, on 1 °C below, off at it.")...)
	for _, step := range s.Steps {
		out = append(out, lines(fmt.Sprintf("step %-2d  ", step.Index), s.handOf(step))...)
	}
	return out
}

// level is the least that may be in the kettle while it heats.
func (s sheet) level() string {
	least := s.Kettle.ElementCoveredAt + heatEnds
	text := fmt.Sprintf("never below %.1f L", least)
	if s.Dipstick.PerCentimetre > 0 {
		text += fmt.Sprintf(" (%.1f cm)", float64(least/s.Dipstick.PerCentimetre))
	}
	return text
}

// handOf is a step in temperatures and minutes.
func (s sheet) handOf(step Step) string {
	if step.Kind == profile.Lift {
		return "Heat and pump off. Lift, lock the hoist, let it drain."
	}
	long := spell(step.Hold)
	way := fmt.Sprintf("Keep %.1f °C", step.Ends)
	switch {
	case step.Heat() > 0 && step.Ends > step.From:
		way = fmt.Sprintf("Heat to %.1f °C (%s)", step.Ends, spell(step.Heat()))
	case step.Heat() > 0:
		way = fmt.Sprintf("Heat off until it has fallen to %.1f °C", step.Ends)
	}
	switch step.Kind {
	case profile.Strike:
		if s.Grain.Mass == 0 {
			return way + ". Heat off."
		}
		return fmt.Sprintf("%s. Heat off, pour %s of grain, stir.", way, unit.FormatKilograms(s.Grain.Mass))
	case profile.Boil:
		return fmt.Sprintf("Lid off. %s, gently in the foam; boil %s.", way, long)
	case profile.Chill:
		return fmt.Sprintf("Heat off, isolate. Chill to %.0f °C, about %s.", step.Ends, spell(step.Heat()))
	}
	if step.Heat() > 0 {
		return fmt.Sprintf("%s, keep it %s.", way, long)
	}
	return fmt.Sprintf("%s for %s.", way, long)
}

// cautions stand on every sheet; those of the plan are longer.
func (s sheet) cautions() []string {
	out := []string{"MIND"}
	for _, c := range []string{
		"Not heating is still live: isolate at the breaker before you reach in. Local codes decide; leave the wiring to a licensed electrician.",
		"Wort above 55 °C scalds at once: stand clear at the lift, beware of foam in the boil. A burn: cool running water for 20 minutes, and help.",
		"Heat " + s.level() + ": a bare element can set fire.",
	} {
		out = append(out, lines("", c)...)
	}
	return out
}
