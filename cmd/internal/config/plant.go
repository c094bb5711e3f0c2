package config

import (
	"time"

	"mashward/controller/observer"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/strict"
	"mashward/sim"
	"mashward/sim/fault"
)

// Plant is the simulated kettle of a rig without a plant file: what the rig
// declares, and defaults for the rest.
func (r Rig) Plant() sim.Params {
	p := sim.DefaultsFor(r.Element.Power, r.Kettle.Capacity)
	p.Name = r.Name
	p.Element.Covered = r.Kettle.ElementCoveredAt
	p.Vessel.Capacity = r.Kettle.Vessel
	// The open lid adds what it adds to the default kettle.
	p.Loss.LidOff += r.Kettle.Loss - p.Loss.LidOn
	p.Loss.LidOn = r.Kettle.Loss
	p.Probe.Covered = r.Probe.CoveredAt
	switch r.Probe.Place {
	case Return:
		p.Probe.Place, p.Probe.Covered = sim.Return, 0
	case Bed:
		p.Probe.Place = sim.Bed
	case Outlet:
	}
	if !r.Pump.Present() {
		p.Circulation.Flow = 0
	}
	if r.Supply.Voltage > 0 {
		p.Supply = sim.Supply{Nominal: r.Supply.Voltage, Actual: r.Supply.Voltage}
	}
	p.Water.Temperature, p.Chiller.Water = r.Site.Tap, r.Site.Tap
	if r.Found != nil {
		r.found(&p)
	}
	p.Grain.Retention = r.Bag.Retention
	p.Site = sim.Site{Room: r.Site.Room, Altitude: r.Site.Altitude}
	return p
}

// found puts what a water test found into the simulated kettle.
func (r Rig) found(p *sim.Params) {
	t := r.Found
	p.Element.Power = t.Power
	p.Element.Transfer = unit.WattsPerKelvin(float64(p.Element.Capacity) / max(t.Element.Seconds(), 1))
	p.Loss.LidOff += t.Loss - p.Loss.LidOn
	p.Loss.LidOn = t.Loss
	p.Evaporation.LidOn = 0 // it is in the loss that was found
	p.Probe.Lag = t.Probe
	p.Circulation.Delay = max(t.Delay, time.Second)
}

// Model is the kettle as a water test found it; the zero value without one.
func (r Rig) Model() observer.Model {
	if r.Found == nil {
		return observer.Model{}
	}
	m := r.Found.Model()
	m.Room = r.Site.Room
	return m
}

// Load is what a profile puts into a simulated kettle.
func Load(p profile.Profile) sim.Load {
	return sim.Load{Water: p.Water, Grain: p.Grain.Mass, GrainTemperature: p.Grain.Temperature, Moisture: p.Grain.Moisture}
}

// LoadPlant reads the true figures of a simulated rig; base fills in what the
// file leaves out. Errors are as LoadProfile's.
func LoadPlant(path string, base sim.Params) (sim.Params, []strict.Fault, error) {
	return load(path, ExitBadInput, func(name string, text []byte) (sim.Params, []strict.Fault) {
		return sim.ParsePlant(name, text, base)
	})
}

// LoadFaults reads a script of faults. Errors are as LoadProfile's.
func LoadFaults(path string) (fault.Script, []strict.Fault, error) {
	return load(path, ExitBadInput, fault.Parse)
}
