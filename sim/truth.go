package sim

import (
	"math"

	"mashward/controller/unit"
	"mashward/profile/heat"
)

// Truth is what is really so in the kettle, for traces and judges. No
// controller sees it.
type Truth struct {
	Wort        unit.Celsius // mean of all wort: outside the bed, in it, in the pipe
	Grain       unit.Celsius // mean of the grain; means something only while HasGrain
	Mash        unit.Celsius // heat-capacity mean of all wort and grain in the kettle
	ElementWort unit.Celsius // wort at the element
	ProbePlace  unit.Celsius // wort where the probe belongs, whether it is there or not
	Sheath      unit.Celsius
	Wall        unit.Celsius
	HasGrain    bool
	Power       unit.Watts     // mean of the last second
	Energy      unit.Joules    // from the element since the start
	Volume      unit.Litres    // cold wort in kettle and pipe
	Level       unit.Litres    // cold space taken in the kettle: its wort and its grain
	Evaporated  unit.Kilograms // since the start
	LidOff      bool
}

// Truth is the state at the end of the last second.
func (p *Plant) Truth() Truth {
	wortHeat, wortCapacity := p.wort()
	grainHeat := p.grainHeat()
	t := Truth{
		Wort:        unit.Celsius(wortHeat / wortCapacity),
		Mash:        unit.Celsius((wortHeat + grainHeat) / (wortCapacity + p.grainCapacity)),
		ElementWort: unit.Celsius(p.x[nodeOutside]),
		ProbePlace:  unit.Celsius(p.x[placeNode(p.par.Probe.Place)]),
		Sheath:      unit.Celsius(p.x[nodeSheath]),
		Wall:        unit.Celsius(p.x[nodeWall]),
		HasGrain:    p.grainCapacity > 0,
		Power:       unit.Watts(p.power),
		Energy:      unit.Joules(p.electric),
		Volume:      unit.Litres((p.x[nodeMass] + p.pipeMass()) / heat.ColdDensity),
		Level:       unit.Litres(p.contents()),
		Evaporated:  unit.Kilograms(p.evaporated),
		LidOff:      p.lidOff || p.cond.LidOff,
	}
	if t.HasGrain {
		t.Grain = unit.Celsius(grainHeat / p.grainCapacity)
	}
	return t
}

// Mash is Truth().Mash alone, for those who ask every second.
func (p *Plant) Mash() unit.Celsius {
	wortHeat, wortCapacity := p.wort()
	return unit.Celsius((wortHeat + p.grainHeat()) / (wortCapacity + p.grainCapacity))
}

// wort is the heat of all wort against 0 °C, J, and its capacity, J/K.
func (p *Plant) wort() (stored, capacity float64) {
	outside := float64(p.par.Circulation.OutsideBed)
	layer := p.x[nodeMass] * (1 - outside) / bedLayers
	sum := p.x[nodeMass] * outside * p.x[nodeOutside]
	for i := range bedLayers {
		sum += layer * p.x[nodeBed+i]
	}
	cell := p.pipeMass() / pipeCells
	for i := range pipeCells {
		sum += cell * p.x[nodePipe+i]
	}
	return sum * water, (p.x[nodeMass] + cell*pipeCells) * water
}

// grainHeat is the heat of the grain in the kettle against 0 °C, J.
func (p *Plant) grainHeat() float64 {
	sum := 0.0
	for i := range bedLayers {
		sum += p.x[nodeGrain+i]
	}
	return sum / bedLayers * p.grainCapacity
}

// content is the heat of wort and grain against 0 °C, J.
func (p *Plant) content() float64 {
	stored, _ := p.wort()
	return stored + p.grainHeat()
}

// stored is the heat of the whole plant against 0 °C, J.
func (p *Plant) stored() float64 {
	return p.content() + p.x[nodeSheath]*float64(p.par.Element.Capacity) + p.x[nodeWall]*float64(p.par.Vessel.Capacity)
}

// Account is where the energy of a plant came from and went, J against liquid
// at 0 °C: Start + Element + Added = Stored + Lost + Vapour + Chilled + Removed.
type Account struct {
	Start, Element, Added                  unit.Joules
	Stored, Lost, Vapour, Chilled, Removed unit.Joules
}

// Account is the energy account since New or Warm.
func (p *Plant) Account() Account {
	return Account{
		Start: unit.Joules(p.start), Element: unit.Joules(p.electric), Added: unit.Joules(p.added),
		Stored: unit.Joules(p.stored()), Lost: unit.Joules(p.x[nodeLost]), Vapour: unit.Joules(p.x[nodeVapour]),
		Chilled: unit.Joules(p.x[nodeChilled]), Removed: unit.Joules(p.removed),
	}
}

// Missing is what the account fails to explain, J.
func (a Account) Missing() unit.Joules {
	return a.Start + a.Element + a.Added - a.Stored - a.Lost - a.Vapour - a.Chilled - a.Removed
}

// Reading is what the probe says now: delayed, off by its offset, noisy, in its
// steps. Each call draws fresh noise.
func (p *Plant) Reading() unit.Celsius {
	sensed := p.r.sensed
	if p.r.steps == 0 { // no second has passed yet: everything is in balance
		sensed = nodeOutside
	}
	v := p.x[sensed] + float64(p.par.Probe.Offset)
	if p.par.Probe.Noise > 0 {
		v += float64(p.par.Probe.Noise) * p.deviate()
	}
	return p.par.Probe.round(unit.Celsius(v))
}

// round is a value in the steps the probe can show.
func (pr Probe) round(v unit.Celsius) unit.Celsius {
	step := unit.Celsius(pr.Step)
	if !(step > 0) {
		return v
	}
	return unit.Celsius(math.Round(float64(v/step))) * step
}

// deviate is a standard normal deviate (Box and Muller 1958, in pairs).
func (p *Plant) deviate() float64 {
	if p.paired {
		p.paired = false
		return p.spare
	}
	u := float64(p.noise.Uint64()>>11+1) / (1 << 53) // 0 < u <= 1
	v := float64(p.noise.Uint64()>>11) / (1 << 53)
	radius := math.Sqrt(-2 * math.Log(u))
	sin, cos := math.Sincos(2 * math.Pi * v)
	p.spare, p.paired = radius*sin, true
	return radius * cos
}
