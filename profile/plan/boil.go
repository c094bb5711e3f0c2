package plan

import (
	"errors"
	"fmt"
	"math"
	"time"

	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/gravity"
	"mashward/profile/heat"
)

// boilStart is the stage at which the kettle needs room for foam.
const boilStart = "the start of the boil"

const (
	// breakBelow is how far under the boiling point the climb waits for
	// somebody to stand by and take the lid off.
	breakBelow unit.Kelvin = 3
	// gentleShare is the power through the hot break.
	gentleShare = 0.6
	// defaultVigour is the share of the volume before the boil that evaporates
	// in an hour where the profile names no rate (common practice, no source:
	// small open kettles lose 8 to 15 % an hour).
	defaultVigour = 0.10
	// chiller is the heat transfer of a small immersion chiller at a steady
	// flow of tap water, W/K (common practice, no source).
	chiller unit.WattsPerKelvin = 300
	// chillerEnd is how close to the tap a chiller gets in useful time.
	chillerEnd unit.Kelvin = 2
	// hosomRoom is where J. Hosom's measured fit of open kettles cooling
	// comes to rest; below openCoolingEnd it says nothing.
	hosomRoom      unit.Celsius = 319.55 - 273.15
	openCoolingEnd unit.Celsius = 55
)

// surface is the area of the wort, m²; 0 where the diameter is not known.
func (k Kettle) surface() float64 { return math.Pi / 4 * float64(k.Diameter) * float64(k.Diameter) }

// openLoss is what an open kettle loses at t by evaporation, W.
func (k Kettle) openLoss(t unit.Celsius) unit.Watts {
	return heat.OpenLoss(k.surface(), k.Room, t)
}

// boil plans the climb to 3 K under the boiling point, the gentle way through
// the break with the lid off, and the boil at its vigour.
func (d *day) boil(index int, s profile.Step) bool {
	if d.grain > 0 {
		d.refuse(index, "the grain is still in the kettle when it comes to the boil", "write `- lift` before the boil")
		return false
	}
	s.Target = d.plan.Boiling
	step := d.begin(index, s)
	climb, energy, ok := d.heatTo(index, d.plan.Boiling.Plus(-breakBelow), 0)
	if !ok {
		return false
	}
	d.temperature = max(d.temperature, d.plan.Boiling.Plus(-breakBelow))
	b := Boil{Before: d.water}
	gentle, power, ok := d.throughBreak(index, &b)
	if !ok {
		return false
	}
	step.Gentle = gentle
	d.open, d.temperature = true, d.plan.Boiling
	d.remember(boilStart, index)
	boilPower := d.vigour(index, s, &b)
	step.Duty = unit.Duty(float64(boilPower / d.kettle.Power)).Clamp()
	step.Energy = energy + unit.Joules(float64(power)*gentle.Seconds()+float64(boilPower)*s.For.Seconds())
	d.finish(step, climb+gentle)
	d.water -= unit.Litres(float64(b.Rate) * s.For.Seconds())
	b.After = d.water
	d.plan.Boils = append(d.plan.Boils, b)
	d.remember("the end of the boil", index)
	d.stages[len(d.stages)-1].counted = d.counted(&b, step.Duty, s.For)
	return true
}

// throughBreak is the time from the waiting point to the boil, and its power.
// The open surface's loss is taken at the middle of the way, which is short.
func (d *day) throughBreak(index int, b *Boil) (time.Duration, unit.Watts, bool) {
	k, boiling := d.kettle, d.plan.Boiling
	if d.temperature >= boiling {
		return 0, 0, true
	}
	if spare := k.surplus(k.Power, boiling); spare <= 0 {
		d.tooHot(index, boiling, k.openHighest())
		return 0, 0, false
	}
	power := gentleShare * k.Power
	if k.surplus(power, boiling) < 0.05*k.Power {
		power, b.FullPower = k.Power, true
		d.say(index, fmt.Sprintf("at %.0f %% of its power the element would not carry the open kettle through the hot break", gentleShare*100),
			"it goes through at full power: stay at the kettle until the foam has fallen, a hand on the switch")
	}
	middle := (d.temperature + boiling) / 2
	way, err := heat.HeatUp(d.capacity(), k.Loss, power-heat.OpenTop(k.surface(), k.Room, middle), k.Room, d.temperature, boiling)
	var unreachable *heat.Unreachable
	if errors.As(err, &unreachable) {
		d.tooHot(index, boiling, k.openHighest())
		return 0, 0, false
	}
	return way, power, true
}

// surplus is what a power leaves to an open kettle at t, after its losses.
func (k Kettle) surplus(power unit.Watts, t unit.Celsius) unit.Watts {
	return power - heat.HoldPower(k.Loss, k.Room, t) - heat.OpenTop(k.surface(), k.Room, t)
}

// openHighest is where full power and the losses of the open kettle balance.
func (k Kettle) openHighest() unit.Celsius {
	low, high := k.Room, unit.Celsius(120)
	for range 60 {
		middle := (low + high) / 2
		if k.surplus(k.Power, middle) > 0 {
			low = middle
		} else {
			high = middle
		}
	}
	return low
}

// What the level above the element is counted with: mains 5 % high are a tenth more
// power, and a loss that nobody has measured may be a fifth less.
const (
	strongMains = 1.10
	sureLoss    = 0.8
)

// Steam is the power and the loss at the boil with which the steam is counted that
// leaves the kettle: the larger power of the plate's and the one found, and the
// loss taken small. Whoever ends heat by the level counts with them.
func (k Kettle) Steam(boiling unit.Celsius) (power, loss unit.Watts) {
	return strongMains * max(k.Power, k.Rated), sureLoss * heat.HoldPower(k.Loss, k.Room, boiling)
}

// counted is by how much more the count that ends heat takes off in a boil than the
// plan: what stands in the kettle is then that much more than it says.
func (d *day) counted(b *Boil, duty unit.Duty, length time.Duration) unit.Litres {
	power, loss := d.kettle.Steam(d.plan.Boiling)
	steam := heat.EvaporationRate(unit.Watts(float64(duty)*float64(power))-loss, d.plan.Boiling)
	return max(0, unit.Litres(float64(steam-b.Rate)*length.Seconds())) + climbCounted
}

// climbCounted is what the count takes for steam on the last kelvins to the boil.
const climbCounted unit.Litres = 0.2

// mostBoilOff is what all of the element's power boils off the open kettle.
func (k Kettle) mostBoilOff(boiling unit.Celsius) unit.LitresPerSecond {
	return gravity.BoilRate(k.Power-heat.OpenAir(k.surface(), k.Room, boiling), k.Loss, k.Room, boiling)
}

// vigour settles the rate of evaporation and the power that makes it.
func (d *day) vigour(index int, s profile.Step, b *Boil) unit.Watts {
	k, boiling := d.kettle, d.plan.Boiling
	b.Rate, b.Chosen = s.BoilOff, s.BoilOff > 0
	if !b.Chosen {
		b.Rate = unit.LitresPerSecond(defaultVigour * float64(d.water) / 3600)
	}
	hold := heat.HoldPower(k.Loss, k.Room, boiling) + heat.OpenAir(k.surface(), k.Room, boiling)
	power := hold + heat.EvaporationPower(b.Rate, boiling)
	if power > k.Power {
		most := heat.EvaporationRate(k.Power-hold, boiling)
		d.say(index, fmt.Sprintf("boiling off %.1f L/h takes %.1f kW, more than the element's %.1f kW", perHour(b.Rate), kilowatts(power), kilowatts(k.Power)),
			fmt.Sprintf("at full power it boils off %.1f L/h, and the plan counts with that; boil longer if you need less wort", perHour(most)))
		b.Rate, power = most, k.Power
	}
	if evaporation := heat.EvaporationPower(b.Rate, boiling); evaporation < k.openLoss(boiling) {
		simmer := heat.EvaporationRate(k.openLoss(boiling), boiling)
		d.say(index, fmt.Sprintf("boiling off %.1f L/h is less than the open surface loses without boiling (about %.1f L/h)", perHour(b.Rate), perHour(simmer)),
			"it would only simmer: choose a higher `boil_off`, or leave the key out")
	}
	b.Steam = heat.EvaporationPower(b.Rate, boiling)
	b.Share = unit.Ratio(float64(b.Rate) * 3600 / float64(b.Before))
	return power
}

func perHour(r unit.LitresPerSecond) float64 { return float64(r) * 3600 }
func kilowatts(p unit.Watts) float64         { return float64(p) / 1000 }

// stand plans hops below the boil. From the boil the open kettle falls by
// itself, as J. Hosom measured it: b = 0.0002925 A/V + 0.00538 a minute, with
// A in cm² and V in litres.
func (d *day) stand(index int, s profile.Step) bool {
	step := d.begin(index, s)
	way, energy, ok := time.Duration(0), unit.Joules(0), true
	if d.open && s.Target < d.temperature && s.Target >= openCoolingEnd {
		b := (0.0002925*d.kettle.surface()*1e4/float64(d.water) + 0.00538) / 60
		fall := math.Log(float64(d.temperature-hosomRoom)/float64(s.Target-hosomRoom)) / b
		way = time.Duration(fall * float64(time.Second))
	} else {
		way, energy, ok = d.bring(index, s)
	}
	if !ok {
		return false
	}
	step.Duty, step.Energy = d.hold(s.Target, s.For)
	step.Energy += energy
	d.finish(step, way)
	return true
}

// chill plans the way down with tap water. A target below what the tap can do
// is said, and the day ends where the chiller stands still.
func (d *day) chill(index int, s profile.Step) bool {
	k := d.kettle
	all := chiller + k.Loss
	rest := unit.Celsius((float64(chiller)*float64(k.Tap) + float64(k.Loss)*float64(k.Room)) / float64(all))
	step := d.begin(index, s)
	step.Ends = min(s.Target, d.temperature)
	if end := rest.Plus(chillerEnd); s.Target < end {
		d.say(index, fmt.Sprintf("the chill to %.1f °C is colder than tap water of %.1f °C can make it: it will end near %.1f °C", s.Target, k.Tap, end),
			"finish in the fridge, or chill the tap water on its way")
		step.Ends = min(end, d.temperature)
	}
	way, err := heat.Cooling(d.capacity(), all, rest, d.temperature, step.Ends)
	if err != nil { // only by figures that are no numbers: Ends lies above rest
		d.refuse(index, err.Error(), "choose a warmer target")
		return false
	}
	d.finish(step, way)
	d.remember("the cold wort", index)
	return true
}
