package plan

import (
	"errors"
	"fmt"
	"time"

	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/heat"
)

// day walks through the profile and keeps what is in the kettle.
type day struct {
	profile profile.Profile
	kettle  Kettle
	plan    Plan

	now         time.Duration
	temperature unit.Celsius
	water       unit.Litres    // cold litres of water or wort in the kettle
	grain       unit.Kilograms // in the kettle
	open        bool           // the lid is off
	stages      []stage
}

// longHeatUp is where a heat-up is worth a word.
const longHeatUp = 2 * time.Hour

func newDay(p profile.Profile, k Kettle) *day {
	return &day{
		profile: p, kettle: k, temperature: k.Tap, water: p.Water,
		plan: Plan{Profile: p.Name, Water: p.Water, Grain: p.Grain, Use: p.Use, Trub: p.Trub, Kettle: k, Boiling: heat.BoilingPointAt(k.Altitude)},
	}
}

// say notes a problem that does not forbid the day.
func (d *day) say(step int, what, remedy string) { d.problem(step, what, remedy, false) }

// refuse notes a problem that does.
func (d *day) refuse(step int, what, remedy string) { d.problem(step, what, remedy, true) }

func (d *day) problem(step int, what, remedy string, refused bool) {
	line := 0
	if step > 0 && step <= len(d.profile.Steps) {
		line = d.profile.Steps[step-1].Line
	}
	d.plan.Problems = append(d.plan.Problems, Problem{What: what, Remedy: remedy, Refused: refused, Step: step, Line: line})
}

// walk puts every step on the clock, until one cannot be reached.
func (d *day) walk() {
	d.remember("the fill", 0)
	for i, s := range d.profile.Steps {
		if i == 0 && s.Kind == profile.MashIn && !d.strike(s) {
			return
		}
		if !d.step(i+1, s) {
			return
		}
	}
	if d.grain > 0 { // a day without a lift
		d.remember("the mash at the end", len(d.profile.Steps))
	}
	d.plan.Finish = d.now
}

// step plans one entry; false means that the day ends here.
func (d *day) step(index int, s profile.Step) bool {
	switch s.Kind {
	case profile.MashIn:
		return d.mashIn(index, s)
	case profile.Rest, profile.MashOut:
		return d.rest(index, s)
	case profile.Lift:
		return d.lift(index, s)
	case profile.Boil:
		return d.boil(index, s)
	case profile.Stand:
		return d.stand(index, s)
	case profile.Chill:
		return d.chill(index, s)
	default:
		d.refuse(index, fmt.Sprintf("entry %d is a %s, which cannot stand in a profile", index, s.Kind), "take it out")
		return false
	}
}

// capacity is the heat capacity of all that is in the kettle, and its own.
func (d *day) capacity() unit.JoulesPerKelvin {
	return heat.Mash{Water: d.water, Grain: d.grain, Moisture: d.profile.Grain.Moisture, Vessel: d.kettle.Vessel}.Capacity()
}

// begin opens a step at the present moment.
func (d *day) begin(index int, s profile.Step) Step {
	return Step{
		Index: index, Kind: s.Kind, Name: s.Name, Target: s.Target, HasTarget: s.Kind != profile.Lift,
		From: d.temperature, Ends: s.Target, Start: d.now, Hold: s.For, Ramp: s.Ramp, Additions: ofStep(s),
	}
}

// finish closes a step whose way to the target took way, and moves the clock.
func (d *day) finish(s Step, way time.Duration) {
	s.Reached = s.Start + way
	s.End = s.Reached + s.Hold
	if way > 0 && s.HasTarget {
		s.Rate = unit.KelvinPerSecond(float64(s.Ends-s.From) / way.Seconds())
	}
	d.now, d.temperature = s.End, s.Ends
	d.plan.Energy += s.Energy
	d.plan.Steps = append(d.plan.Steps, s)
}

// hold is the duty that keeps a covered kettle at a temperature, and the
// energy of a time there.
func (d *day) hold(target unit.Celsius, length time.Duration) (unit.Duty, unit.Joules) {
	power := heat.HoldPower(d.kettle.Loss, d.kettle.Room, target)
	return unit.Duty(float64(power / d.kettle.Power)).Clamp(), unit.Joules(float64(power) * length.Seconds())
}

// strike plans the water's heat-up to the computed temperature.
func (d *day) strike(in profile.Step) bool {
	g := d.profile.Grain
	if g.Mass == 0 && d.profile.Use != profile.WaterBrew {
		d.refuse(1, "mash-in, and the profile has no grain", "write `grain: {mass: 4.6 kg, temperature: 18 °C}`, or take the step out")
		return false
	}
	mash := heat.Mash{
		Water: d.water, Grain: g.Mass, GrainTemperature: g.Temperature, Moisture: g.Moisture,
		Slaking: g.Slaking, Vessel: d.kettle.Vessel, Stirring: d.kettle.Stirring,
	}
	terms, err := heat.Strike(mash, in.Target)
	if err != nil {
		d.refuse(0, err.Error(), "write the volume of water in the profile")
		return false
	}
	d.plan.HasStrike, d.plan.Strike = true, terms
	if highest := d.plan.Boiling - 3; terms.Temperature > highest {
		d.refuse(1, fmt.Sprintf("mash-in at %.1f °C would need strike water of %.1f °C; at this altitude water boils at %.1f °C",
			in.Target, terms.Temperature, d.plan.Boiling),
			"take more water or less grain, warm the grain, or mash in cooler and heat up to the first rest")
		return false
	}
	if terms.Temperature < d.temperature {
		d.say(0, fmt.Sprintf("the strike water would be %.1f °C, colder than the tap's %.1f °C", terms.Temperature, d.temperature),
			"cool the water before the grain goes in, or mash in warmer")
	}
	s := d.begin(0, profile.Step{Kind: profile.Strike, Target: terms.Temperature, Additions: in.Additions})
	way, energy, ok := d.heatTo(0, terms.Temperature, 0)
	if !ok {
		return false
	}
	s.Energy = energy
	d.finish(s, way)
	d.remember("the strike water", 0)
	return true
}

// mashIn starts when the grain is in. Its temperature is then the target, plus
// what stirring will lose; the bed settles inside the rest.
func (d *day) mashIn(index int, s profile.Step) bool {
	if index != 1 {
		d.refuse(index, fmt.Sprintf("mash-in is entry %d", index), "make it the first entry: the strike water stands before it")
		return false
	}
	d.now += Pour
	d.grain = d.profile.Grain.Mass
	d.temperature = s.Target
	step := d.begin(index, s)
	step.Duty, step.Energy = d.hold(s.Target, s.For)
	d.finish(step, 0)
	d.remember("the mash at mash-in", index)
	return true
}

// rest covers mash-out as well: to the target, then the time there.
func (d *day) rest(index int, s profile.Step) bool {
	step := d.begin(index, s)
	way, energy, ok := d.bring(index, s)
	if !ok {
		return false
	}
	step.Duty, step.Energy = d.hold(s.Target, s.For)
	step.Energy += energy
	d.finish(step, way)
	return true
}

// bring heats to a target or waits until the kettle has cooled to it.
func (d *day) bring(index int, s profile.Step) (time.Duration, unit.Joules, bool) {
	if s.Target >= d.temperature {
		return d.heatTo(index, s.Target, s.Ramp)
	}
	wait, err := heat.Cooling(d.capacity(), d.kettle.Loss, d.kettle.Room, d.temperature, s.Target)
	if err != nil {
		d.refuse(index, fmt.Sprintf("%s at %.1f °C lies below the room's %.1f °C: the kettle cannot cool to it by itself",
			s.Kind, s.Target, d.kettle.Room), "choose a target above the room's temperature")
		return 0, 0, false
	}
	d.say(index, fmt.Sprintf("%s at %.1f °C lies %.1f °C below what comes before it: with the lid on the kettle takes %s to fall that far",
		s.Kind, s.Target, float64(d.temperature-s.Target), spell(wait)), d.wayDown(s.Target))
	return wait, 0, true
}

// wayDown says how the kettle is brought down to a target: by the chiller
// after a boil, by tap water in a mash.
func (d *day) wayDown(target unit.Celsius) string {
	if d.open {
		return fmt.Sprintf("write `- {chill: %.0f °C}` before it", target)
	}
	below := float64(target - d.kettle.Tap)
	if below <= 1 {
		return "put the steps in rising order, or wait"
	}
	kilograms := float64(d.capacity()) * float64(d.temperature-target) / (heat.WaterHeat * below)
	return fmt.Sprintf("wait, or stir in about %.1f L of water at %.0f °C (then the volumes below are that much larger)",
		heat.ColdVolume(unit.Kilograms(kilograms)), d.kettle.Tap)
}

// lift takes the grain out with what it keeps. Both presses come at once.
func (d *day) lift(index int, s profile.Step) bool {
	step := d.begin(index, s)
	step.Hold, step.Ends = 0, d.temperature
	d.remember("the mash before the lift", index)
	d.water -= heat.Retention(d.grain, d.kettle.Retention)
	d.grain = 0
	if d.water <= 0 {
		d.refuse(index, "the grain keeps more than all the water: nothing is left after the lift", "take more water or less grain")
		return false
	}
	d.finish(step, 0)
	d.remember("the wort after the lift", index)
	return true
}

// heatTo is the time and energy of a heat-up, with a ceiling on the rate where
// one is given (0: none). A ceiling that the element cannot follow is said.
func (d *day) heatTo(index int, target unit.Celsius, ceiling unit.KelvinPerSecond) (time.Duration, unit.Joules, bool) {
	k, c, from := d.kettle, d.capacity(), d.temperature
	if from >= target {
		return 0, 0, true
	}
	// Up to turn the element could do more than the ceiling allows.
	turn := from
	if ceiling > 0 {
		turn = followable(k, c, ceiling, from, target)
	}
	ramped := time.Duration(0)
	if turn > from {
		ramped = time.Duration(float64(turn-from) / float64(ceiling) * float64(time.Second))
	}
	full, err := heat.HeatUp(c, k.Loss, k.Power, k.Room, turn, target)
	var unreachable *heat.Unreachable
	if errors.As(err, &unreachable) {
		d.tooHot(index, target, unreachable.Highest)
		return 0, 0, false
	}
	total := ramped + full
	if total > longHeatUp {
		d.say(index, fmt.Sprintf("the heat-up to %.1f °C takes %s", target, spell(total)), "a stronger element, less water or less loss would shorten it")
	}
	if ceiling > 0 && turn < target {
		d.say(index, fmt.Sprintf("the heat-up to %.1f °C may rise by %.2f °C a minute, but the element manages %.2f at its end, %.2f on the whole",
			target, perMinute(ceiling), perMinute(rateAt(k, c, target)), float64(target-from)/total.Minutes()),
			fmt.Sprintf("it will take %s instead of %s; less water or a stronger element would follow the ramp",
				spell(total), spell(time.Duration(float64(target-from)/float64(ceiling)*float64(time.Second)))))
	}
	lost := float64(k.Loss) * float64((from+turn)/2-k.Room) * ramped.Seconds()
	energy := float64(c)*float64(turn-from) + max(0, lost) + float64(k.Power)*full.Seconds()
	return total, unit.Joules(energy), true
}

// followable is the temperature up to which full power is at least the rate.
func followable(k Kettle, c unit.JoulesPerKelvin, rate unit.KelvinPerSecond, from, target unit.Celsius) unit.Celsius {
	if rateAt(k, c, target) >= rate {
		return target
	}
	if rateAt(k, c, from) <= rate {
		return from
	}
	return k.Room + unit.Celsius((float64(k.Power)-float64(c)*float64(rate))/float64(k.Loss))
}

// rateAt is how fast the load rises at full power at a temperature.
func rateAt(k Kettle, c unit.JoulesPerKelvin, t unit.Celsius) unit.KelvinPerSecond {
	return unit.KelvinPerSecond((float64(k.Power) - float64(k.Loss)*float64(t-k.Room)) / float64(c))
}

func perMinute(r unit.KelvinPerSecond) float64 { return float64(r) * 60 }

// tooHot refuses a target that full power cannot reach.
func (d *day) tooHot(index int, target, highest unit.Celsius) {
	what := "the strike water"
	if index > 0 {
		what = fmt.Sprintf("entry %d, %s,", index, d.profile.Steps[index-1].Kind)
	}
	d.refuse(index, fmt.Sprintf("%s cannot reach %.1f °C: at full power this kettle comes to rest at %.1f °C", what, target, highest),
		fmt.Sprintf("choose a target well below %.1f °C, lower the loss (lid, insulation), or use a stronger element", highest))
}
