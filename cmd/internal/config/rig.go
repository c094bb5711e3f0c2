// Package config reads the files a person writes about kettle and day, and
// turns them into the typed figures the other packages ask for. It is the one
// place where a rig file is understood.
package config

import (
	"math"

	"mashward/controller/unit"
	"mashward/profile/heat"
	"mashward/profile/plan"
)

// Place is where the probe sits.
type Place uint8

// The places of a probe.
const (
	Outlet Place = iota // in the wort outside the bag
	Return              // in the pump's hose: blind while the pump is off
	Bed                 // in the grain
)

var placeNames = []string{"outlet", "return", "bed"}

// String is the word used in files.
func (p Place) String() string {
	if int(p) < len(placeNames) {
		return placeNames[p]
	}
	return "unknown"
}

// RelayType is how a relay switches. The zero value is the one that is treated
// with more care.
type RelayType uint8

// The types of relays.
const (
	Mechanical RelayType = iota // contacts: slow, and they wear
	SolidState
)

var relayTypes = []string{"mechanical", "solid-state"}

// String is the word used in files.
func (t RelayType) String() string {
	if int(t) < len(relayTypes) {
		return relayTypes[t]
	}
	return "unknown"
}

// Rig is kettle, element, pump and probe with the site they stand at, every
// default filled in.
type Rig struct {
	Name      string
	Kettle    Kettle
	Element   Element
	Pump      Pump
	Probe     Probe
	Supply    Supply
	Site      Site
	Bag       Bag
	Limits    Limits
	Contactor Relay   // series contactor; an empty driver: none
	Inputs    Inputs  // dry contacts, all optional
	Signals   Signals // outputs for people, all optional
	Tuning    string  // file name as written, relative to the rig file; "": untuned
	Found     *Tuning // what is in that file; nil: untuned
	File      string  // where it was read from, for messages
}

// Kettle is the vessel.
type Kettle struct {
	Capacity         unit.Litres // brim-full
	Diameter         unit.Metres // 0: not known, and no depths are given
	ElementCoveredAt unit.Litres
	Vessel           unit.JoulesPerKelvin
	Loss             unit.WattsPerKelvin // to the room, lid on
	VesselEstimated  bool                // from the capacity, by EstimatedVessel
	LossEstimated    bool                // from the capacity, by EstimatedLoss
}

// Element is what heats.
type Element struct {
	Power unit.Watts
	Relay Relay
}

// Relay is one switched line and how it is reached.
type Relay struct {
	Driver string // gpio or sysfs; "": there is no such relay
	Line   string // as the driver names it
	Type   RelayType
}

// Present tells whether the rig has this relay.
func (r Relay) Present() bool { return r.Driver != "" }

// Pump turns the wort over. A rig without one has no relay for it.
type Pump struct {
	Relay  Relay
	InBoil bool // it may run in boiling wort
}

// Present tells whether the rig has a pump.
func (p Pump) Present() bool { return p.Relay.Present() }

// Probe is the one thermometer.
type Probe struct {
	Driver    string
	ID        string // which one on its bus
	Place     Place
	CoveredAt unit.Litres // unused with Return
}

// Supply is the circuit the element hangs on. Zero: not said, not checked.
type Supply struct {
	Voltage unit.Volts
	Fuse    unit.Amperes
	Tariff  Tariff // what its energy costs
}

// Site is where the kettle stands.
type Site struct {
	Altitude unit.Metres
	Room     unit.Celsius
	Tap      unit.Celsius
}

// Bag is what the grain hangs in.
type Bag struct {
	Retention unit.LitresPerKilogram // water in minus wort out, cold
	Stirring  unit.Kelvin            // temperature lost while stirring in
}

// Limits may only tighten what holds anyway. Zero: not set.
type Limits struct {
	OverTemperature unit.Celsius
	HotSide         unit.Kelvin // of the wort at the element above the target, in heat-ups
}

// Inputs are lines that are read. "": there is none. Off and Emergency are
// normally closed, so that a broken wire counts as pressed.
type Inputs struct {
	Go, Off, Level, Flow, Emergency string
}

// Signals are lines that tell people something. "": there is none.
type Signals struct {
	Buzzer, Lamp string
}

// What holds where the rig file is silent.
const (
	DefaultRoom      unit.Celsius           = 18
	DefaultTap       unit.Celsius           = 12
	DefaultRetention unit.LitresPerKilogram = 0.8 // a hung bag (common practice, no source)
)

// An over-temperature limit more than this above the boiling point would be
// loosened; at less than tight above it a healthy boil may be cut, since a
// probe may err by 1 K, wort boils 0.2 K above water and the weather moves the
// boiling point by 0.7 K.
const (
	loose   unit.Kelvin  = 4
	tight   unit.Kelvin  = 3
	hottest unit.Celsius = 105
)

// Boiling is the boiling point of water at the site in the standard atmosphere.
func (r Rig) Boiling() unit.Celsius { return heat.BoilingPointAt(r.Site.Altitude) }

// OverTemperature is the rig's limit in force: its own, or the loosest allowed.
func (r Rig) OverTemperature() unit.Celsius {
	if r.Limits.OverTemperature > 0 {
		return r.Limits.OverTemperature
	}
	return loosest(r.Boiling())
}

func loosest(boiling unit.Celsius) unit.Celsius { return min(boiling.Plus(loose), hottest) }

// EstimatedVessel is the heat capacity of a kettle nobody has weighed:
// 300 J/K times the capacity in litres to the power of 2/3, as its walls grow
// with the square of its width. For 50 L that is 4.1 kJ/K, or some 8 kg of
// steel (common practice, no source).
func EstimatedVessel(capacity unit.Litres) unit.JoulesPerKelvin {
	return unit.JoulesPerKelvin(300 * math.Pow(float64(capacity), 2.0/3))
}

// EstimatedLoss is the loss of a kettle nobody has measured, lid on: 0.5 W/K
// times the capacity in litres to the power of 2/3. For 50 L that is 6.8 W/K,
// or 9 W/K a square metre of bare wall (common practice, no source).
func EstimatedLoss(capacity unit.Litres) unit.WattsPerKelvin {
	return unit.WattsPerKelvin(0.5 * math.Pow(float64(capacity), 2.0/3))
}

// PlanKettle is the rig as the plan wants it.
func (r Rig) PlanKettle() plan.Kettle {
	k := plan.Kettle{
		Capacity:         r.Kettle.Capacity,
		Diameter:         r.Kettle.Diameter,
		ElementCoveredAt: r.Kettle.ElementCoveredAt,
		Vessel:           r.Kettle.Vessel,
		Loss:             r.Kettle.Loss,
		Power:            r.Element.Power,
		Rated:            r.Element.Power,
		Relay:            plan.Mechanical,
		Pump:             r.Pump.Present(),
		InBoil:           r.Pump.InBoil,
		ProbeCoveredAt:   r.Probe.CoveredAt,
		Voltage:          r.Supply.Voltage,
		Fuse:             r.Supply.Fuse,
		Altitude:         r.Site.Altitude,
		Room:             r.Site.Room,
		Tap:              r.Site.Tap,
		Retention:        r.Bag.Retention,
		Stirring:         r.Bag.Stirring,
		OverTemperature:  r.Limits.OverTemperature,
		HotSide:          r.Limits.HotSide,
	}
	if r.Found != nil {
		k.Power, k.Loss = r.Found.Power, r.Found.Loss
	}
	if r.Element.Relay.Type == SolidState {
		k.Relay = plan.SolidState
	}
	switch r.Probe.Place {
	case Return:
		k.Probe = plan.Return
	case Bed:
		k.Probe = plan.Bed
	default:
		k.Probe = plan.Outlet
	}
	return k
}
