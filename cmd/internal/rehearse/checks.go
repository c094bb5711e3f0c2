package rehearse

import (
	"math"

	"mashward/cmd/internal/config"
	"mashward/controller/verify"
	"mashward/profile/heat"
	"mashward/profile/plan"
)

// Checks are what the model-based checks know of the plan's kettle, with what a
// water test has found; nil: there was none.
func Checks(d plan.Plan, t *config.Tuning) verify.Params {
	k := d.Kettle
	p := verify.Params{
		Power: k.Power, Loss: k.Loss, Room: k.Room, Boiling: d.Boiling, HasPump: k.Pump,
		Brim: heat.WaterCapacity(k.Capacity) + k.Vessel, Surface: surface(k),
	}
	switch k.Probe {
	case plan.Return:
		p.Place = verify.Return
	case plan.Bed:
		p.Place = verify.Bed
	case plan.Outlet:
	}
	if t != nil {
		p.Tuned, p.Element, p.Probe, p.Delay, p.Mixing, p.Share = true, t.Element, t.Probe, t.Delay, t.Mixing, t.Share
	}
	return p
}

// IdleChecks watch a kettle in which nothing has been declared to stand.
func IdleChecks(rig config.Rig) verify.Params {
	return Checks(plan.Plan{Kettle: rig.PlanKettle(), Boiling: rig.Boiling()}, rig.Found)
}

// surface is the open surface of a kettle, m²: from its diameter, or that of one
// as wide as it is deep.
func surface(k plan.Kettle) float64 {
	d := float64(k.Diameter)
	if !(d > 0) {
		d = math.Cbrt(4 * float64(k.Capacity) / 1000 / math.Pi)
	}
	return math.Pi / 4 * d * d
}
