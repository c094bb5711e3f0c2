package rehearse

import (
	"context"
	"fmt"
	"time"

	"mashward/cmd/internal/config"
	"mashward/controller"
	"mashward/controller/tune"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/sim"
	"mashward/sim/kettles"
)

// RigOf is the rig file that the owner of a random kettle would write.
func RigOf(k kettles.Kettle, relay plan.RelayKind) config.Rig {
	d := k.Declared
	place := map[sim.Place]config.Place{sim.Outlet: config.Outlet, sim.Return: config.Return, sim.Bed: config.Bed}[d.Place]
	r := config.Rig{
		Name:    "random kettle",
		Kettle:  config.Kettle{Capacity: d.Capacity, Diameter: d.Diameter, ElementCoveredAt: d.ElementCovered, Vessel: d.Vessel, Loss: d.Loss},
		Element: config.Element{Power: d.Power, Relay: config.Relay{Driver: "sysfs", Line: "1", Type: config.SolidState}},
		Pump:    config.Pump{Relay: config.Relay{Driver: "sysfs", Line: "2"}, InBoil: true},
		Probe:   config.Probe{Driver: "w1", Place: place, CoveredAt: d.ProbeCovered},
		Site:    config.Site{Altitude: d.Altitude, Room: d.Room, Tap: d.Tap},
		Bag:     config.Bag{Retention: d.Retention},
	}
	if relay == plan.Mechanical {
		r.Element.Relay.Type = config.Mechanical
	}
	return r
}

// FourRests is one mash for any kettle: 44, 63, 71 and 77 °C.
func FourRests(k kettles.Kettle) profile.Profile {
	rest := func(kind profile.Kind, t unit.Celsius, minutes int) profile.Step {
		return profile.Step{Kind: kind, Target: t, For: time.Duration(minutes) * time.Minute, Floor: 1}
	}
	return profile.Profile{
		Name: "four rests", Water: k.Load.Water,
		Grain: profile.Grain{Mass: k.Load.Grain, Temperature: k.Load.GrainTemperature, Moisture: k.Load.Moisture, Slaking: k.Plant.Grain.Slaking},
		Steps: []profile.Step{rest(profile.MashIn, 44, 10), rest(profile.Rest, 63, 25), rest(profile.Rest, 71, 20), rest(profile.MashOut, 77, 10)},
	}
}

// TuneRandom runs the water test on a random kettle, near room temperature:
// the rig with what was found in place of what was declared.
func TuneRandom(k kettles.Kettle, rig config.Rig, seed uint64) (config.Rig, tune.Result, error) {
	plant := sim.New(k.Plant, sim.Load{Water: k.Load.Water}, seed+1)
	plant.Warm(k.Plant.Site.Room + 4)
	trial := Trial{Rig: rig, Water: k.Load.Water, Kettle: &Simulated{Bench: sim.NewBench(plant, nil, seed)}}
	out, err := trial.Go(context.Background())
	switch {
	case err != nil:
		return rig, tune.Result{}, err
	case out.Mode != controller.Complete:
		return rig, tune.Result{}, fmt.Errorf("the water test ended %v (%v)", out.Mode, out.Reason)
	case !out.Found.Accepted():
		return rig, out.Found, fmt.Errorf("the water test was refused: %v", out.Found.Reason)
	}
	found := config.TuningOf(rig.Name, k.Load.Water, out.Found.Model, out.Found.Noise, out.Found.Residual, out.Found.Doubt)
	return rig.Tuned(found), out.Found, nil
}

// Change makes a kettle another than the one that was tuned.
type Change struct {
	Name string
	Do   func(*kettles.Kettle)
}

// Changes are those whose later rests have to come right: volume or power wrong
// by 30 %, all delays half as long again.
func Changes() []Change {
	return []Change{
		{"volume +30 %", func(k *kettles.Kettle) { k.Plant.Water.Error = 0.3; k.Plant.Vessel.Volume *= 1.5 }},
		{"volume -30 %", func(k *kettles.Kettle) { k.Plant.Water.Error = -0.3 }},
		{"power +30 %", func(k *kettles.Kettle) { k.Plant.Element.Power *= 1.3 }},
		{"power -30 %", func(k *kettles.Kettle) { k.Plant.Element.Power *= 0.7 }},
		{"delays +50 %", func(k *kettles.Kettle) {
			k.Plant.Probe.Lag, k.Plant.Circulation.Delay = k.Plant.Probe.Lag*3/2, k.Plant.Circulation.Delay*3/2
			k.Plant.Circulation.Flow /= 1.5
			k.Plant.Element.Transfer /= 1.5
		}},
	}
}
