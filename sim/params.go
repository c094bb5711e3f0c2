// Package sim is a kettle that obeys physics instead of wishes: a plant (the
// true kettle, a system of ordinary differential equations) and a bench that
// stands where probe, relay lines and pacer stand on a real kettle.
//
// The plant is richer than the model the controller steers by, on purpose: a
// controller tested on its own model is not tested.
//
// # Nodes
//
//	element power
//	     |
//	  sheath --- wort outside the bed --- wall --- room
//	               |   ^      \__ surface: loss with the lid off, vapour, chiller
//	             pump  |
//	               v   |
//	             pipe (4 cells) -> bed layer 1 -> layer 2 -> layer 3 -+
//	               |               each layer: wort <-> grain         |
//	              room             ^______ back to outside ___________|
//
// The pump draws from the wort outside the bed, through the pipe, on top of the
// bed and down through its layers back to the outside. Before the grain is in
// and after it is lifted the layers are plain water of the same kettle, turned
// over by free convection.
//
// All wort has the density and the specific heat of water; volumes are cold.
package sim

import (
	"math"
	"time"

	"mashward/controller/unit"
)

// Place is where the probe sits.
type Place uint8

// Places of a probe.
const (
	Outlet Place = iota // in the wort outside the bed, where the pump draws
	Return              // at the end of the pump's hose
	Bed                 // in the middle of the grain bed
)

var placeNames = [...]string{"outlet", "return", "bed"}

// String is the word used in files.
func (p Place) String() string {
	if int(p) < len(placeNames) {
		return placeNames[p]
	}
	return "unknown"
}

// Params are the true figures of one kettle. The controller never sees them.
type Params struct {
	Name        string
	Element     Element
	Vessel      Vessel
	Loss        Loss
	Evaporation Evaporation
	Circulation Circulation
	Probe       Probe
	Supply      Supply
	Water       Water
	Grain       Grain
	Chiller     Chiller
	Site        Site
}

// Element is the heating element at nominal supply.
type Element struct {
	Power    unit.Watts
	Capacity unit.JoulesPerKelvin // of the sheath
	Transfer unit.WattsPerKelvin  // sheath to wort, covered
	Covered  unit.Litres          // kettle contents from which it is covered; 0 = always
}

// Vessel is the wall of the kettle.
type Vessel struct {
	Volume   unit.Litres // to the brim
	Capacity unit.JoulesPerKelvin
	Transfer unit.WattsPerKelvin // wall to wort
}

// Loss is heat to the room. With the lid on it leaves by the wall; what the
// open lid adds leaves from the surface of the wort.
type Loss struct {
	LidOn, LidOff unit.WattsPerKelvin
}

// Evaporation is cooling by vapour per pressure difference to the room.
type Evaporation struct {
	LidOn, LidOff unit.WattsPerPascal
}

// Circulation is what the pump moves and where it goes.
type Circulation struct {
	Flow        unit.LitresPerSecond // pump on; 0 = no pump
	BedTransfer unit.WattsPerKelvin  // wort of the bed to its grain
	OutsideBed  unit.Ratio           // share of the kettle's wort outside the bed
	Delay       time.Duration        // time in the pipe; with the flow it gives the pipe's volume
	PipeLoss    unit.WattsPerKelvin
}

// Probe is the true behaviour of the thermometer.
type Probe struct {
	Place      Place
	Lag        time.Duration // first-order lag of its tip
	Noise      unit.Kelvin   // standard deviation of a reading
	Step       unit.Kelvin   // resolution; 0 = none
	Offset     unit.Kelvin   // what it reads too high
	Conversion time.Duration
	Covered    unit.Litres // kettle contents from which an outlet probe is covered; 0 = always
}

// Supply is the mains: power goes with the square of the voltage.
type Supply struct {
	Nominal, Actual unit.Volts
}

// Water is what really went into the kettle.
type Water struct {
	Error       unit.Ratio // true water against the profile's
	Temperature unit.Celsius
}

// Grain is how the real grain differs from the profile's.
type Grain struct {
	Error     unit.Ratio // true mass against the profile's
	Slaking   unit.JoulesPerKilogram
	Retention unit.LitresPerKilogram // cold wort that leaves with the lifted grain
}

// Chiller is an exchanger hung into the wort.
type Chiller struct {
	Transfer unit.WattsPerKelvin
	Water    unit.Celsius
}

// Site is the surroundings.
type Site struct {
	Room     unit.Celsius
	Altitude unit.Metres
}

// Load is what the profile says goes into the kettle; Params say how far the
// truth is from it.
type Load struct {
	Water            unit.Litres
	Grain            unit.Kilograms
	GrainTemperature unit.Celsius
	Moisture         unit.Ratio
}

// Defaults are the figures of a plain 50 L kettle with a 3 kW element. They are
// engineering guesses, not measurements.
func Defaults() Params { return DefaultsFor(3000, 50) }

// DefaultsFor are the figures of a plain kettle of this power and capacity. What
// goes with the element scales with power (a fixed surface load), what goes
// with surface scales with capacity to the power 2/3, what goes with contents
// scales with capacity. All are engineering guesses.
func DefaultsFor(power unit.Watts, capacity unit.Litres) Params {
	byPower := float64(power) / 3000
	byVolume := float64(capacity) / 50
	bySurface := surfaceScale(byVolume)
	return Params{
		Name:        "plain kettle",
		Element:     Element{Power: power, Capacity: unit.JoulesPerKelvin(900 * byPower), Transfer: unit.WattsPerKelvin(140 * byPower)},
		Vessel:      Vessel{Volume: capacity, Capacity: unit.JoulesPerKelvin(4100 * bySurface), Transfer: unit.WattsPerKelvin(180 * bySurface)},
		Loss:        Loss{LidOn: unit.WattsPerKelvin(7 * bySurface), LidOff: unit.WattsPerKelvin(10 * bySurface)},
		Evaporation: Evaporation{LidOn: unit.WattsPerPascal(0.0006 * bySurface), LidOff: unit.WattsPerPascal(0.006 * bySurface)},
		Circulation: Circulation{
			Flow: unit.LitresPerSecond(0.1 * byVolume), BedTransfer: unit.WattsPerKelvin(260 * byVolume),
			OutsideBed: 0.3, Delay: 5 * time.Second, PipeLoss: 0.8,
		},
		Probe:   Probe{Place: Outlet, Lag: 9 * time.Second, Noise: 0.05, Step: 0.0625, Conversion: 750 * time.Millisecond},
		Supply:  Supply{Nominal: 230, Actual: 230},
		Water:   Water{Temperature: 12},
		Grain:   Grain{Retention: 0.8},
		Chiller: Chiller{Transfer: unit.WattsPerKelvin(300 * byVolume), Water: 12},
		Site:    Site{Room: 18},
	}
}

// surfaceScale is what a surface grows by when a vessel of the same shape grows
// by scale.
func surfaceScale(scale float64) float64 { return math.Pow(scale, 2.0/3) }
