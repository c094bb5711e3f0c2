package plan

import (
	"fmt"
	"math"
	"time"

	"mashward/controller/unit"
	"mashward/profile"
)

// checkFigures refuses a kettle or profile with which nothing can be worked
// out: files are checked where they are read, but a plan never divides by
// what was left out.
func (d *day) checkFigures() {
	k, p := d.kettle, d.profile
	for _, f := range []struct {
		what   string
		value  float64
		strict bool // must be above zero
	}{
		{"the element's power", float64(k.Power), true},
		{"the kettle's capacity", float64(k.Capacity), true},
		{"the profile's water", float64(p.Water), true},
		{"the kettle's loss", float64(k.Loss), false},
		{"the vessel's heat capacity", float64(k.Vessel), false},
		{"the kettle's diameter", float64(k.Diameter), false},
		{"the bag's retention", float64(k.Retention), false},
		{"the temperature lost in stirring", float64(k.Stirring), false},
		{"the grain's mass", float64(p.Grain.Mass), false},
	} {
		if math.IsNaN(f.value) || math.IsInf(f.value, 0) || f.value < 0 || (f.strict && f.value == 0) {
			d.refuse(0, fmt.Sprintf("%s is missing or no usable number", f.what), "write it with its unit")
		}
	}
	for _, t := range []unit.Celsius{k.Room, k.Tap} {
		if !(t > -40 && t < 60) {
			d.refuse(0, fmt.Sprintf("a site temperature of %.1f °C is out of range", t), "write room and tap between -40 and 60 °C")
		}
	}
	if len(p.Steps) == 0 {
		d.refuse(0, "the profile has no steps", "write at least one rest")
	}
}

// checkSupply judges the current against the fuse. Duty is no excuse: while
// the relay is closed the whole current flows.
func (d *day) checkSupply() {
	k := d.kettle
	if !(k.Voltage > 0) {
		return
	}
	rated := k.Rated
	if rated == 0 {
		rated = k.Power
	}
	d.plan.Supply.Current = unit.Amperes(float64(rated) / float64(k.Voltage))
	if !(k.Fuse > 0) {
		return
	}
	d.plan.Supply.Fuse = k.Fuse
	share := unit.Ratio(d.plan.Supply.Current / k.Fuse)
	d.plan.Supply.Share = share
	draws := fmt.Sprintf("the element draws %.1f A, %.0f %% of the %.0f A fuse", d.plan.Supply.Current, share*100, k.Fuse)
	switch {
	case share > 1:
		d.refuse(0, draws, "use a circuit made for it or a smaller element; a relay that pulses does not make an element fit a smaller circuit. "+
			"Local code decides: ask a licensed electrician")
	case share > 0.8:
		d.say(0, draws+", for hours", "feel plug and lead by hand after 20 min at full power: hot means stop. "+
			"Local code decides what such a circuit may carry: ask a licensed electrician")
	}
}

// checkProbe refuses a boil that the probe cannot see.
func (d *day) checkProbe() {
	k := d.kettle
	if k.Probe == Return && !k.Pump {
		d.refuse(0, "the probe sits in the pump's return, but the rig has no pump", "move the probe into the wort, or name the pump")
	}
	for i, s := range d.profile.Steps {
		switch {
		case s.Kind == profile.Boil && k.Probe == Return && k.Pump && !k.InBoil:
			d.refuse(i+1, "the probe sits in the pump's return and is blind in the boil, where the pump stands still",
				"move the probe into the wort, or let the pump run in the boil if it is made for that (`in_boil: yes`)")
		case s.Kind == profile.Lift && k.Probe == Bed:
			d.say(i+1, "the probe sits in the grain and leaves the wort with the lift",
				"put it into the wort before you answer that the grain is clear")
		}
	}
}

const (
	looseAbove unit.Kelvin  = 4 // above the boiling point a limit is loosened
	tightBelow unit.Kelvin  = 3 // below this above the boiling point it may cut a healthy boil
	hottest    unit.Celsius = 105
)

// checkLimit judges the rig's own over-temperature limit, which may only
// tighten what holds anyway.
func (d *day) checkLimit() {
	limit, boiling := d.kettle.OverTemperature, d.plan.Boiling
	if limit == 0 {
		return
	}
	if most := min(boiling.Plus(looseAbove), hottest); limit > most {
		d.refuse(0, fmt.Sprintf("the over-temperature limit of %.1f °C is looser than %.1f °C, the most this altitude allows (water boils at %.1f °C)",
			limit, most, boiling), fmt.Sprintf("write at most %.1f °C, or leave the key out", math.Floor(float64(most)*10)/10))
		return
	}
	for i, s := range d.profile.Steps {
		if s.Kind == profile.Boil && limit <= boiling.Plus(tightBelow) {
			d.say(i+1, fmt.Sprintf("the over-temperature limit of %.1f °C stands %.1f °C above the boiling point: a healthy boil may be cut off",
				limit, float64(limit-boiling)), fmt.Sprintf("write %.1f °C, or leave the key out", math.Floor(float64(boiling.Plus(looseAbove))*10)/10))
		}
	}
	for _, s := range d.plan.Steps {
		if s.HasTarget && s.Kind != profile.Chill && s.Target >= limit {
			d.refuse(s.Index, fmt.Sprintf("%s at %.1f °C lies at or above the over-temperature limit of %.1f °C: heat would never be allowed to it",
				s.Kind, s.Target, limit), "raise the limit, or choose a lower target")
		}
	}
}

// Cautions are the lines that close every plan, by the kind of the element's
// relay.
func Cautions(kind RelayKind) []string {
	relay := "A solid-state relay that fails mostly fails closed, and even a good one never isolates: “not heating” still means live."
	if kind == Mechanical {
		relay = "A relay's contacts can weld, and open ones isolate nothing you may touch: “not heating” still means live."
	}
	return []string{
		"Mains and water: earth the kettle, run it behind an RCD (GFCI) and a breaker of its own, and isolate it before you open anything " +
			"or reach in. Local codes decide; leave the wiring to a licensed electrician.",
		relay,
		"This program protects no one from a welded contact or a dry element: have an independent thermal cut-out with manual reset, " +
			"and a contactor in series.",
		"Wort above 55 °C scalds at once. Stand clear at the lift, lock the hoist, and let nobody reach over the kettle. " +
			"For a burn: cool running water for 20 minutes, and help.",
		"Never let the kettle boil dry: the levels above are estimates, the dipstick decides.",
	}
}

// What the interlock allows in any batch: heating without a break, and the time
// one arming by a person is good for.
const (
	longestOn    = 4 * time.Hour
	longestArmed = 12 * time.Hour
)

// checkTimes says that the interlock would end a day.
func (d *day) checkTimes() {
	for _, s := range d.plan.Steps {
		if s.Heat() > longestOn && s.Target > s.From {
			d.say(s.Index, fmt.Sprintf("%s would heat for %s without a break, and heat is cut after %s", s.title(), spell(s.Heat()), spell(longestOn)),
				"take less water or a stronger element")
		}
	}
	if d.plan.Finish > longestArmed {
		d.say(0, fmt.Sprintf("the day takes %s, and one arming is good for %s: it would be held then", spell(d.plan.Finish), spell(longestArmed)),
			"make the rests shorter, or two days of it")
	}
}
