package sim

import (
	"math"

	"mashward/controller/unit"
	"mashward/profile/heat"
)

const water = heat.WaterHeat // J/(kg K), of all wort

// rates are the figures of the differential equations for one second, while
// inputs are held. Products with heat capacities that cannot change within the
// second are formed once.
type rates struct {
	power   float64 // W into the sheath
	sheath  float64 // 1/s: transfer over the sheath's capacity
	element float64 // W/K, sheath to wort
	perHeat float64 // K/J of the sheath

	wall      float64 // W/K, wall to wort
	perWall   float64 // K/J of the wall
	wallLoss  float64 // W/K, wall to room
	surface   float64 // W/K, open surface to room
	chiller   float64 // W/K
	chilling  float64 // °C of the chiller's water
	room      float64 // °C
	vapour    float64 // W/Pa
	roomVapor float64 // Pa
	boiling   float64 // °C
	boilsAway float64 // 1, or 0 when only the puddle is left

	outside float64 // share of the kettle's wort outside the bed
	layer   float64 // share of one layer
	mixing  float64 // 1/s: exchange of a layer with the outside by free convection

	flow      float64 // kg/s
	pipe      float64 // 1/s: flow over the mass of a pipe cell
	pipeCool  float64 // 1/s: loss over the heat capacity of a pipe cell
	pipeLoss  float64 // W/K of one cell
	grain     float64 // 1/s: transfer over the grain's capacity
	grainGain float64 // W/K of one layer, wort to grain

	probe, convert float64 // 1/s; 0: that cell is left out
	place          int     // node at the probe's tip
	converted      int     // node the conversion begins from
	sensed         int     // node the reading is taken from

	steps int // Runge-Kutta steps a second
}

// prepare fills the rates for the second to come.
func (p *Plant) prepare(watts float64, pump unit.Relay) {
	r := &p.r
	r.power = watts
	p.prepareElement(r)
	p.prepareSurroundings(r)
	p.prepareFlow(r, pump)
	p.prepareProbe(r)
	r.steps = p.stepsFor(r)
}

func (p *Plant) prepareElement(r *rates) {
	e := p.par.Element
	wet := 1.0
	if e.Covered > 0 {
		wet = (p.contents()/float64(e.Covered) - bareShare) / (1 - bareShare)
		wet = min(max(wet, 0), 1)
	}
	if p.cond.ElementDry {
		wet = 0
	}
	r.element = float64(e.Transfer) * (dryShare + (1-dryShare)*wet)
	r.perHeat = 1 / float64(e.Capacity)
	r.sheath = r.element * r.perHeat
}

func (p *Plant) prepareSurroundings(r *rates) {
	loss, vap := p.par.Loss, p.par.Evaporation
	r.wall = float64(p.par.Vessel.Transfer)
	r.perWall = 1 / float64(p.par.Vessel.Capacity)
	r.wallLoss = float64(loss.LidOn)
	r.surface, r.vapour = 0, float64(vap.LidOn)
	if p.lidOff || p.cond.LidOff {
		r.surface, r.vapour = float64(loss.LidOff-loss.LidOn), float64(vap.LidOff)
	}
	r.chiller, r.chilling = 0, float64(p.par.Chiller.Water)
	if p.chiller {
		r.chiller = float64(p.par.Chiller.Transfer)
	}
	room := p.par.Site.Room
	if r.boiling == 0 || r.room != float64(room) {
		r.room = float64(room)
		r.roomVapor = roomHumidity * float64(heat.SaturationPressure(room))
		r.boiling = float64(heat.BoilingPointAt(p.par.Site.Altitude))
	}
	r.boilsAway = 1
	if p.x[nodeMass] <= puddle {
		r.boilsAway = 0
	}
}

func (p *Plant) prepareFlow(r *rates, pump unit.Relay) {
	c := p.par.Circulation
	r.outside = float64(c.OutsideBed)
	r.layer = (1 - r.outside) / bedLayers
	r.mixing = 1 / openTurnover
	r.grain, r.grainGain = 0, 0
	if p.grainCapacity > 0 {
		r.mixing = 1 / bedTurnover
		r.grainGain = float64(c.BedTransfer) / bedLayers
		r.grain = float64(c.BedTransfer) / p.grainCapacity
	}
	if p.stir > 0 {
		r.mixing = 1 / stirTurnover
	}
	r.flow, r.pipe, r.pipeCool, r.pipeLoss = 0, 0, 0, 0
	cell := p.pipeMass() / pipeCells
	if !(cell > 0) {
		return
	}
	r.pipeLoss = float64(c.PipeLoss) / pipeCells
	r.pipeCool = r.pipeLoss / (cell * water)
	if pump == unit.On && !p.cond.PumpStopped && p.x[nodeMass] > 2*puddle {
		r.flow = float64(c.Flow) * heat.ColdDensity
		r.pipe = r.flow / cell
	}
}

// prepareProbe chooses what the probe feels. A probe in air feels the room; one
// that the level has left feels the space above the wort, halfway to the room.
func (p *Plant) prepareProbe(r *rates) {
	pr := p.par.Probe
	r.place = placeNode(pr.Place)
	lag := pr.Lag.Seconds()
	bare := pr.Place == Outlet && pr.Covered > 0 && p.contents() < float64(pr.Covered)
	switch {
	case p.cond.ProbeOut:
		r.place, lag = nodeAir, max(lag, airLag)
		p.x[nodeAir] = r.room
	case bare:
		r.place, lag = nodeAir, max(lag, airLag)
		p.x[nodeAir] = (p.x[nodeOutside] + r.room) / 2
	}
	r.probe, r.convert = 0, 0
	r.converted = r.place
	if lag >= shortestLag {
		r.probe, r.converted = 1/lag, nodeProbe
	}
	r.sensed = r.converted
	if c := pr.Conversion.Seconds(); c >= shortestLag {
		r.convert, r.sensed = 2/c, nodeConvert+1
	}
}

func placeNode(at Place) int {
	switch at {
	case Return:
		return nodePipe + pipeCells - 1
	case Bed:
		return nodeBed + bedLayers/2
	default:
		return nodeOutside
	}
}

// stepsFor chooses the Runge-Kutta steps of a second from the fastest node.
// Cells that shape the kettle get a step of at most 0.45 of their time constant
// (local error 0.45^5/120 = 1.5e-4 of a jump); the cells of the conversion, which
// only follow what the tip's lag has smoothed, need stability alone: the rule is
// stable on the real axis up to 2.78 time constants, and 1.35 keeps half of it.
func (p *Plant) stepsFor(r *rates) int {
	mass := p.x[nodeMass]
	layer := mass * r.layer * water
	outside := mass * r.outside * water
	_, latent := vapour(p.x[nodeOutside])
	through := r.flow*water + float64(bedLayers)*r.mixing*layer + water*r.power/latent
	fastest := max(
		r.sheath,
		(r.wall+r.wallLoss)*r.perWall,
		(r.element+r.wall+r.surface+r.chiller+through+r.boilTransfer(p.x[nodeOutside])+4000*r.vapour)/outside,
		(r.flow*water+r.grainGain)/layer+r.mixing,
		r.grain,
		r.pipe+r.pipeCool,
		r.probe,
	)
	steps := max(fastest/0.45, r.convert/1.35, 1)
	return int(math.Ceil(min(steps, 200)))
}

// boilTransfer is W/K that boiling adds within reach of the boiling point.
func (r *rates) boilTransfer(outside float64) float64 {
	if outside < r.boiling-3 {
		return 0
	}
	return boilTransfer
}

// slope is the right-hand side of the differential equations. Wort that leaves
// a node leaves at that node's temperature; vapour takes mass from the outside,
// and the layers give theirs after it so that the level stays one.
func (p *Plant) slope(x, d *state) {
	r := &p.r
	out := x[nodeOutside]
	perMass := 1 / x[nodeMass]
	pressure, latent := vapour(out)
	steam := r.vapour * max(0, pressure-r.roomVapor)
	if out > r.boiling {
		steam += boilTransfer * (out - r.boiling)
	}
	gone := r.boilsAway * steam / latent // kg/s

	fromSheath := r.element * (x[nodeSheath] - out)
	toRoom := r.surface * (out - r.room)
	toChiller := r.chiller * (out - r.chilling)
	wall := x[nodeWall]
	fromWall := r.wall * (wall - out)
	wallLoss := r.wallLoss * (wall - r.room)

	d[nodeSheath] = (r.power - fromSheath) * r.perHeat
	d[nodeWall] = -(fromWall + wallLoss) * r.perWall
	pipeLoss := p.slopePipe(x, d)
	carried := p.slopeBed(x, d, perMass, gone)

	into := fromSheath + fromWall - toRoom - toChiller - steam
	d[nodeOutside] = (into/water + carried) * perMass / r.outside
	d[nodeMass] = -gone
	d[nodeLost] = toRoom + wallLoss + pipeLoss
	d[nodeVapour] = steam + gone*water*out
	d[nodeChilled] = toChiller
	d[nodeProbe] = r.probe * (x[r.place] - x[nodeProbe])
	d[nodeConvert] = r.convert * (x[r.converted] - x[nodeConvert])
	d[nodeConvert+1] = r.convert * (x[nodeConvert] - x[nodeConvert+1])
	d[nodeAir] = 0
}

// slopePipe follows the wort through the pipe and gives its loss, W.
func (p *Plant) slopePipe(x, d *state) float64 {
	r := &p.r
	before, loss := x[nodeOutside], 0.0
	for i := nodePipe; i < nodePipe+pipeCells; i++ {
		above := x[i] - r.room
		d[i] = r.pipe*(before-x[i]) - r.pipeCool*above
		loss += above
		before = x[i]
	}
	return loss * r.pipeLoss
}

// slopeBed follows the wort down the bed and gives what it brings to the
// outside, kg K/s.
func (p *Plant) slopeBed(x, d *state, perMass, gone float64) float64 {
	r := &p.r
	out := x[nodeOutside]
	perLayer := perMass / r.layer
	flow, gain := r.flow*perLayer, r.grainGain/water*perLayer
	before := x[nodePipe+pipeCells-1]
	difference := 0.0
	for i := range bedLayers {
		wort, grain := x[nodeBed+i], x[nodeGrain+i]
		d[nodeBed+i] = flow*(before-wort) + gain*(grain-wort) + r.mixing*(out-wort)
		d[nodeGrain+i] = r.grain * (wort - grain)
		difference += wort - out
		before = wort
	}
	exchange := r.layer * (r.mixing*x[nodeMass] + gone)
	return r.flow*(before-out) + exchange*difference
}
