package sim

import (
	"math/rand/v2"

	"mashward/controller/unit"
	"mashward/profile/heat"
)

// How fine the bed and the pipe are cut.
const (
	bedLayers = 3
	pipeCells = 4
)

// The nodes of the plant: temperatures in °C, but for the mass and the tallies.
const (
	nodeSheath  = 0
	nodeOutside = 1                     // wort outside the bed
	nodeBed     = 2                     // wort of the layers, top first
	nodeGrain   = nodeBed + bedLayers   // grain of the layers, top first
	nodeWall    = nodeGrain + bedLayers // vessel
	nodePipe    = nodeWall + 1          // pipe cells, from the outlet on
	nodeProbe   = nodePipe + pipeCells  // tip of the probe
	nodeConvert = nodeProbe + 1         // two cells: the delay of the conversion
	nodeMass    = nodeConvert + 2       // kg of wort in the kettle, pipe excluded
	nodeLost    = nodeMass + 1          // J lost to the room so far
	nodeVapour  = nodeLost + 1          // J carried off by vapour so far
	nodeChilled = nodeVapour + 1        // J taken by the chiller so far
	nodeAir     = nodeChilled + 1       // what a bare probe feels; held
	nodes       = nodeAir + 1
)

// Figures that no plant file sets. Engineering guesses, but for boiling.
const (
	boilTransfer = 3000.0 // W/K above the boiling point that go into vapour
	puddle       = 0.3    // kg that neither drain nor boil away
	roomHumidity = 0.5    // of saturation
	dryShare     = 0.03   // of the element's transfer left when it stands in air
	airLag       = 25.0   // s: lag of a probe in air
	openTurnover = 30.0   // s: free convection exchanges the kettle's wort, no grain in it
	bedTurnover  = 1800.0 // s: the same through bag and bed, pump off
	stirTurnover = 15.0   // s: the same under the paddle
	stirSeconds  = 120    // how long the brewer stirs after the grain is in
	shortestLag  = 0.4    // s: a probe's cell faster than this is left out
	bareShare    = 0.5    // of the covered level at which an element is wholly bare
)

type state [nodes]float64

// Plant is one kettle: a plain value, so that an assignment is a clone. It is
// deterministic: equal parameters, load, seed and inputs give equal readings.
type Plant struct {
	par    Params
	load   Load
	x      state
	r      rates
	cond   Condition
	noise  rand.PCG
	spare  float64 // the second of a pair of normal deviates
	paired bool

	lidOff, chiller, hung, grainIn bool
	stir                           int // s of stirring left

	grainMass     float64 // kg in the kettle
	grainCapacity float64 // J/K of all grain in the kettle
	power         float64 // W in the last second
	electric      float64 // J from the element so far
	added         float64 // J brought by grain, slaking and water, against 0 °C
	removed       float64 // J carried off by lifting and draining, against 0 °C
	start         float64 // J stored at the beginning, against 0 °C
	evaporated    float64 // kg
}

// Condition is what faults do to a plant. The zero value is a healthy one.
type Condition struct {
	ElementLost unit.Ratio           // share of the element's power that is missing
	ElementDry  bool                 // its heat hardly reaches the wort
	PumpStopped bool                 // the pump turns, nothing flows
	LidOff      bool                 // the lid is off, whatever was said
	Sag         unit.Ratio           // how much lower the voltage is
	ProbeOut    bool                 // the probe hangs in the room's air
	Drain       unit.LitresPerSecond // cold wort running out of the kettle
}

// New is a kettle filled with water, at the water's temperature throughout,
// pipe primed, lid on, grain not yet in. Seed fixes the probe's noise.
func New(par Params, load Load, seed uint64) *Plant {
	p := &Plant{par: par, load: load}
	p.noise = *rand.NewPCG(seed, 0x6d617368)
	water := float64(heat.ColdMass(load.Water)) * (1 + float64(par.Water.Error))
	p.x[nodeMass] = max(water-p.pipeMass(), puddle)
	p.Warm(par.Water.Temperature)
	return p
}

// Warm sets every node to one temperature and begins the energy account anew.
func (p *Plant) Warm(t unit.Celsius) {
	for i := range nodeMass {
		p.x[i] = float64(t)
	}
	p.x[nodeLost], p.x[nodeVapour], p.x[nodeChilled] = 0, 0, 0
	p.x[nodeAir] = float64(p.par.Site.Room)
	p.electric, p.added, p.removed = 0, 0, 0
	p.start = p.stored()
}

// Clone is a second kettle in the same state, noise included.
func (p *Plant) Clone() *Plant {
	q := *p
	return &q
}

// Params are the figures the plant was made with.
func (p *Plant) Params() Params { return p.par }

// SetCondition says what faults are at work from now on.
func (p *Plant) SetCondition(c Condition) { p.cond = c }

// FullPower is what the element takes at the actual supply when it is on.
func (p *Plant) FullPower() unit.Watts {
	volts := float64(p.par.Supply.Actual) * (1 - float64(p.cond.Sag)) / float64(p.par.Supply.Nominal)
	return p.par.Element.Power * unit.Watts(volts*volts*(1-float64(p.cond.ElementLost)))
}

// Advance lets one second pass with element and pump held as given.
func (p *Plant) Advance(element, pump unit.Relay) {
	watts := 0.0
	if element == unit.On {
		watts = float64(p.FullPower())
	}
	p.second(watts, pump)
}

// second is Advance with any power. Inputs, wetting and mixing are held for the
// second; the rest is integrated by the classical Runge-Kutta rule of order 4.
func (p *Plant) second(watts float64, pump unit.Relay) {
	if p.cond.Drain > 0 {
		p.drain(float64(p.cond.Drain) * heat.ColdDensity)
	}
	p.prepare(watts, pump)
	before := p.x[nodeMass]
	for range p.r.steps {
		p.rungeKutta(1 / float64(p.r.steps))
	}
	p.evaporated += before - p.x[nodeMass]
	p.power = watts
	p.electric += watts
	if p.stir > 0 {
		p.stir--
	}
}

// rungeKutta takes one step of h seconds.
func (p *Plant) rungeKutta(h float64) {
	var k, sum, y state
	x := &p.x
	p.slope(x, &sum)
	for i := range y {
		y[i] = x[i] + h/2*sum[i]
	}
	p.slope(&y, &k)
	for i := range y {
		sum[i] += 2 * k[i]
		y[i] = x[i] + h/2*k[i]
	}
	p.slope(&y, &k)
	for i := range y {
		sum[i] += 2 * k[i]
		y[i] = x[i] + h*k[i]
	}
	p.slope(&y, &k)
	for i := range x {
		x[i] += h / 6 * (sum[i] + k[i])
	}
}

// pipeMass is the wort in the pipe, kg.
func (p *Plant) pipeMass() float64 {
	c := p.par.Circulation
	return float64(c.Flow) * c.Delay.Seconds() * heat.ColdDensity
}

// contents is the space taken in the kettle in cold litres: wort and grain.
func (p *Plant) contents() float64 {
	return p.x[nodeMass]/heat.ColdDensity + float64(heat.Displaced(unit.Kilograms(p.grainMass)))
}
