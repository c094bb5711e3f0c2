package verify

import (
	"math"
	"time"

	"mashward/controller/observer"
	"mashward/controller/unit"
	"mashward/profile/heat"
	"mashward/sensors"
)

// Place is where the probe sits.
type Place uint8

// The places a probe may sit in.
const (
	Outlet Place = iota // in the wort outside the bag
	Return              // in the pump's hose: blind while the pump is off
	Bed                 // in the grain
)

// Params are what is known of the kettle: declared, or found by a water test.
// The zero value watches nothing.
type Params struct {
	Power   unit.Watts
	Loss    unit.WattsPerKelvin  // lid on
	Room    unit.Celsius         //
	Boiling unit.Celsius         //
	Place   Place                //
	HasPump bool                 //
	Brim    unit.JoulesPerKelvin // of the kettle filled to the brim: the load while nobody has stated one
	Surface float64              // m² of open wort, for what an open lid can lose

	// Tuned tells that a water test has found Power and Loss, and what follows.
	Tuned   bool
	Element time.Duration // lag of the element
	Probe   time.Duration // lag of the probe
	Delay   time.Duration // between kettle and reading
	Mixing  time.Duration // in which water evens out
	Share   unit.Ratio    // of the capacity that heats at once
}

// Tick is all that may be known about one instant. It holds facts about kettle
// and hands, no target and no wish.
type Tick struct {
	Now     time.Duration
	Reading sensors.Reading
	Applied unit.Relay           // what the element's line did in the last tick
	Load    unit.JoulesPerKelvin // of what stands in the kettle; 0: nobody has stated it
	Pump    unit.Relay           // the pump was told to run
	Over    bool                 // the batch is over: whatever was in the kettle may have been let out, and something else put in
	Bed     bool                 // grain is in the kettle
	Busy    bool                 // a person has his hands in it: grain is poured, a bag lifted
	Open    bool                 // the lid is off, or may be
	LidOff  bool                 // a person said that it is off
	Chiller bool                 // the chiller runs
	Metal   bool                 // a chiller that was hung into the boil cold may hold it back
	Told    bool                 // in this tick a person told of water that went in or out, or of a volume read
}

// Lags and shares of a kettle that nobody has tested: the middle of what
// kettles have that turn their wort over in 1.5 to 5 min. Chosen on simulated
// kettles.
const (
	usualElement = 8 * time.Second
	usualProbe   = 11 * time.Second
	usualDelay   = 2 * time.Second
	hoseDelay    = 4 * time.Second // from outlet to the end of the hose
	usualMixing  = 20 * time.Second
	usualShare   = 0.35
	// With grain in: wort outside the bed and the vessel against bed and grain.
	bedShare    = 0.32
	bedMixing   = 90 * time.Second   // pump on
	stillMixing = 1800 * time.Second // pump off
)

// scene is what kind of contents the model is of.
type scene = uint8

const (
	water   scene = iota // no grain: free convection mixes
	flowing              // grain in, pump on
	still                // grain in, pump off
)

func sceneOf(t *Tick) scene {
	switch {
	case !t.Bed:
		return water
	case t.Pump == unit.On:
		return flowing
	}
	return still
}

// model is the kettle with this load.
func (p *Params) model(load unit.JoulesPerKelvin, s scene) observer.Model {
	m := observer.Model{
		Power: p.Power, Loss: p.Loss, Room: p.Room, Element: usualElement, Probe: usualProbe, Delay: usualDelay,
		InMash: p.Place == Bed && s != water, Noise: 0.07,
	}
	share, mixing := usualShare, usualMixing
	if p.Tuned {
		m.Element, m.Probe = max(p.Element, time.Second), max(p.Probe, time.Second)
		m.Delay = min(max(p.Delay, 0), observer.MostDelay).Round(time.Second)
		share, mixing = min(max(float64(p.Share), 0.05), 0.95), max(p.Mixing, time.Second)
	}
	if p.Place == Return && !p.Tuned {
		m.Delay += hoseDelay
	}
	switch s {
	case flowing:
		share, mixing = bedShare, bedMixing
	case still:
		share, mixing = bedShare, stillMixing
	case water:
	}
	m.Heated = unit.JoulesPerKelvin(share) * load
	m.Mash = load - m.Heated
	m.Exchange = unit.WattsPerKelvin(float64(m.Mash) / mixing.Seconds())
	return m
}

// wander is the drift of this observer, and its alone: the limits were chosen
// with it. It follows unknown power five times as fast as the one the law acts on.
func wander() observer.Drift {
	return observer.Drift{Temperature: 1e-6, Probe: 1e-7, Extra: 0.02 * 0.02}
}

// openLoss bounds what an open surface loses beyond the declared loss, W: by
// vapour 90 W/(m² kPa) and by the air 8 W/(m² K), the windy end of what is
// assumed of kettles.
func (p *Params) openLoss(at unit.Celsius) float64 {
	if at <= p.Room {
		return 0
	}
	const vapour, air = 0.090, 8.0 // W/(m² Pa), W/(m² K)
	pressure := float64(heat.SaturationPressure(min(at, 100)) - heat.SaturationPressure(p.Room)/2)
	return p.Surface * (vapour*pressure + air*float64(at-p.Room))
}

// sound tells whether the parameters can be those of a kettle.
func (p *Params) sound() bool {
	sum := float64(p.Power) + float64(p.Loss) + float64(p.Room) + float64(p.Brim) + float64(p.Surface) + float64(p.Boiling)
	return p.Power > 0 && p.Loss >= 0 && p.Brim > 0 && p.Boiling > 0 && !math.IsNaN(sum) && !math.IsInf(sum, 0)
}
