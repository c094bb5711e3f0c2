package sim

import (
	"mashward/controller/unit"
	"mashward/profile/heat"
)

// Kind is what happens to a kettle besides heat and pump.
type Kind uint8

// What can happen. Grain goes in once; a second GrainIn, and a Lift with no
// grain in, change nothing.
const (
	None        Kind = iota
	GrainIn          // all grain at once, and two minutes of stirring
	Lift             // grain and the wort it holds leave, the rest has drained
	LidOn            //
	LidOff           //
	ChillerOn        // its water running
	ChillerOff       //
	WaterIn          // Litres at Temperature, into the wort outside the bed
	WaterOut         // Litres from the outlet
	GrainIs          // the grain that will go in is Kilograms, at Temperature
	ChillerHung      // hung in cold, its water off
)

var kindNames = [...]string{"", "grain-in", "lift", "lid-on", "lid-off", "chiller-on", "chiller-off", "water-in", "water-out", "grain-is", "chiller-hung"}

// String is the word used in traces.
func (k Kind) String() string {
	if int(k) < len(kindNames) {
		return kindNames[k]
	}
	return "unknown"
}

// Event is one such happening. Litres (cold) count for water only, Kilograms for
// grain, Temperature for both.
type Event struct {
	Kind        Kind
	Litres      unit.Litres
	Kilograms   unit.Kilograms
	Temperature unit.Celsius
}

// Do lets an event happen between two seconds.
func (p *Plant) Do(e Event) {
	switch e.Kind {
	case GrainIn:
		p.pour()
	case Lift:
		p.lift()
	case LidOn, LidOff:
		p.lidOff = e.Kind == LidOff
	case ChillerOn, ChillerOff:
		p.chiller, p.hung = e.Kind == ChillerOn, true
	case WaterIn:
		p.fill(float64(heat.ColdMass(e.Litres)), float64(e.Temperature))
	case WaterOut:
		p.drain(float64(heat.ColdMass(e.Litres)))
	case ChillerHung:
		p.hang()
	case GrainIs:
		if !p.grainIn {
			p.load.Grain, p.load.GrainTemperature = e.Kilograms, e.Temperature
		}
	}
}

// metalSeconds makes the heat capacity of a chiller, with the water that stands in
// it, of its transfer: 3 kJ/K at 300 W/K (common practice, no source: two or three
// kilograms of tube, half a litre of water).
const metalSeconds = 10.0

// hang lets the wort warm a chiller from the room's temperature; a boil stirs it in
// at once. What the metal has taken up is gone.
func (p *Plant) hang() {
	if p.hung {
		return
	}
	p.hung = true
	metal, room := metalSeconds*float64(p.par.Chiller.Transfer), float64(p.par.Site.Room)
	before, masses := p.content(), p.masses()
	for i, mass := range masses {
		node := nodeBed + i
		if i == bedLayers {
			node = nodeOutside
		}
		wort, share := mass*water, metal*mass/p.x[nodeMass]
		p.x[node] = (wort*p.x[node] + share*room) / (wort + share)
	}
	p.removed += before - p.content()
}

// pour brings the grain in at its own temperature, warmed by its slaking heat.
// The grain shares itself evenly over the layers; their wort is drawn into it,
// and the brewer stirs for a while.
func (p *Plant) pour() {
	mass := float64(p.load.Grain) * (1 + float64(p.par.Grain.Error))
	if p.grainIn || mass <= 0 {
		return
	}
	specific := heat.GrainHeat(p.load.Moisture)
	at := float64(p.load.GrainTemperature) + float64(p.par.Grain.Slaking)/specific
	p.grainIn = true
	p.grainMass = mass
	p.grainCapacity = mass * specific
	for i := range bedLayers {
		p.x[nodeGrain+i] = at
	}
	p.added += p.grainCapacity * at
	p.stir = stirSeconds
}

// lift takes out the grain and the wort it holds; what the layers then hold too
// much or too little of runs to or from the outside.
func (p *Plant) lift() {
	if p.grainCapacity == 0 {
		return
	}
	before := p.content()
	held := p.grainMass * float64(p.par.Grain.Retention) * heat.ColdDensity
	masses := p.masses()
	held = min(held, p.x[nodeMass]-masses[bedLayers]-puddle)
	for i := range bedLayers {
		masses[i] -= max(held, 0) / bedLayers
	}
	p.settle(masses)
	p.grainMass, p.grainCapacity, p.stir = 0, 0, 0
	p.removed += before - p.content()
}

// fill adds mass kg at t to the wort outside the bed.
func (p *Plant) fill(mass, t float64) {
	if !(mass > 0) {
		return
	}
	masses := p.masses()
	out := masses[bedLayers]
	p.x[nodeOutside] = (out*p.x[nodeOutside] + mass*t) / (out + mass)
	masses[bedLayers] += mass
	p.settle(masses)
	p.added += mass * water * t
}

// drain takes mass kg from the outlet, all but the puddle. What leaves is taken
// at the temperature outside the bed, as far as there is wort there; the rest
// has run out of the bed.
func (p *Plant) drain(mass float64) {
	mass = min(mass, p.x[nodeMass]-puddle)
	if !(mass > 0) {
		return
	}
	before := p.content()
	masses := p.masses()
	whole := p.x[nodeMass]
	if mass < masses[bedLayers]/2 {
		masses[bedLayers] -= mass
	} else {
		for i := range masses {
			masses[i] *= 1 - mass/whole
		}
	}
	p.settle(masses)
	p.removed += before - p.content()
}

// masses are kg of wort in each layer and, last, outside the bed.
func (p *Plant) masses() [bedLayers + 1]float64 {
	outside := float64(p.par.Circulation.OutsideBed)
	var m [bedLayers + 1]float64
	for i := range bedLayers {
		m[i] = p.x[nodeMass] * (1 - outside) / bedLayers
	}
	m[bedLayers] = p.x[nodeMass] * outside
	return m
}

// settle lets wort run between layers and outside until the level is one again:
// first what the layers hold too much mixes into the outside, then what they
// lack comes from it.
func (p *Plant) settle(m [bedLayers + 1]float64) {
	total := 0.0
	for _, part := range m {
		total += part
	}
	p.x[nodeMass] = total
	target := p.masses()
	for i := range bedLayers {
		if surplus := m[i] - target[i]; surplus > 0 {
			out := m[bedLayers]
			p.x[nodeOutside] = (out*p.x[nodeOutside] + surplus*p.x[nodeBed+i]) / (out + surplus)
			m[bedLayers] += surplus
			m[i] = target[i]
		}
	}
	for i := range bedLayers {
		if lack := target[i] - m[i]; lack > 0 {
			p.x[nodeBed+i] = (m[i]*p.x[nodeBed+i] + lack*p.x[nodeOutside]) / target[i]
		}
	}
}
