package plan

import (
	"fmt"

	"mashward/controller/unit"
	"mashward/profile/heat"
)

// Volume is what stands in the kettle at one stage.
type Volume struct {
	Stage    string // "the fill", "the wort after the lift"
	Step     int
	At       unit.Celsius
	Cold     unit.Litres // with the room the grain takes
	Hot      unit.Litres // what the dipstick shows at that temperature
	Depth    unit.Metres // hot; 0 where the kettle's diameter is not known
	BelowRim unit.Metres // hot; 0 where the diameter is not known
	Grain    bool        // the grain is in
}

// stage is the content of the kettle as the day came past it.
type stage struct {
	name        string
	step        int
	water       unit.Litres
	grain       unit.Kilograms
	temperature unit.Celsius
	counted     unit.Litres // by how much less the count that ends heat takes it for
}

func (d *day) remember(name string, step int) {
	d.stages = append(d.stages, stage{name: name, step: step, water: d.water, grain: d.grain, temperature: d.temperature})
}

// level is the cold volume that covers things: grain raises it.
func (s stage) level() unit.Litres { return s.water + heat.Displaced(s.grain) }

// hot is the volume at the stage's temperature: the grain does not expand.
func (s stage) hot() unit.Litres {
	return heat.HotVolume(s.water, s.temperature) + heat.Displaced(s.grain)
}

func (d *day) fillVolumes() {
	for _, s := range d.stages {
		v := Volume{Stage: s.name, Step: s.step, At: s.temperature, Cold: s.level(), Hot: s.hot(), Grain: s.grain > 0}
		if area := d.kettle.surface(); area > 0 {
			v.Depth = unit.Metres(float64(v.Hot) / 1000 / area)
			v.BelowRim = unit.Metres(float64(d.kettle.Capacity-v.Hot) / 1000 / area)
		}
		d.plan.Volumes = append(d.plan.Volumes, v)
	}
}

const (
	heatEnds  unit.Litres = 1 // above the covered level: heat ends there
	heatWarns unit.Litres = 3 // above the covered level: a warning
	// foamRoom is the share of the kettle left free in the boil (common
	// practice, no source).
	foamRoom = 0.10
)

// checkLevels judges the lowest level of the day against what must stay
// covered. Cold litres count, as the hot level is higher.
func (d *day) checkLevels() {
	if len(d.stages) == 0 {
		return
	}
	lowest := d.stages[0]
	for _, s := range d.stages {
		if s.level() < lowest.level() {
			lowest = s
		}
	}
	d.covers(lowest, "the element", d.kettle.ElementCoveredAt)
	lowest.counted = 0 // nothing counts what is left above the probe
	if d.kettle.Probe != Return {
		d.covers(lowest, "the probe", d.kettle.ProbeCoveredAt)
	}
}

func (d *day) covers(lowest stage, what string, covered unit.Litres) {
	level := lowest.level() - lowest.counted
	if covered <= 0 || level >= covered+heatWarns {
		return
	}
	here := fmt.Sprintf("%s stands at %.1f L, the lowest of the day, and %s is covered only from %.1f L",
		lowest.name, lowest.level(), what, covered)
	if lowest.counted >= 0.05 {
		here += fmt.Sprintf("; the count that ends heat takes a tenth more power, and says %.1f L", level)
	}
	if level < covered+heatEnds {
		d.refuse(lowest.step, fmt.Sprintf("%s: heat would end at %.1f L", here, covered+heatEnds),
			fmt.Sprintf("fill at least %.1f L more (%.1f L more leaves room for error), or boil off less",
				covered+heatEnds-level, covered+heatWarns-level))
		return
	}
	d.say(lowest.step, fmt.Sprintf("%s: that is little to spare, heat ends at %.1f L", here, covered+heatEnds),
		fmt.Sprintf("fill %.1f L more, or watch the level", covered+heatWarns-level))
}

// checkRoom judges whether every stage fits under the rim.
func (d *day) checkRoom() {
	fullest := stage{}
	for _, s := range d.stages {
		if s.hot() > fullest.hot() {
			fullest = s
		}
		if free := d.kettle.Capacity - s.hot(); s.name == boilStart && free >= 0 && float64(free) < foamRoom*float64(d.kettle.Capacity) {
			d.say(s.step, fmt.Sprintf("%s leaves %.1f L free under the rim: little room for the foam of the hot break", s.name, free),
				"stand by with a spoon and a spray of cold water, or take less water")
		}
	}
	if over := fullest.hot() - d.kettle.Capacity; over > 0 {
		d.refuse(fullest.step, fmt.Sprintf("%s takes %.1f L hot, and the kettle holds %.1f L", fullest.name, fullest.hot(), d.kettle.Capacity),
			fmt.Sprintf("take %.1f L less water, or less grain (each kilogram takes %.2f L)", over, float64(heat.Displacement)))
	}
}
