package controller

import (
	"math"
	"time"

	"mashward/controller/unit"
	"mashward/profile"
)

// Poured is what is kept of the pour until the first heat-up of the mash.
//
// What the strike heat-up taught may be the element's power or the volume of
// water: its rate cannot tell. Wrong power holds for the mash as it is, wrong
// volume is diluted by the grain. But less water falls further when the grain
// goes in, and the first quiet minutes of the mash show how far it fell.
type Poured struct {
	Gain   float64       // learned by then, as if all of it were power; 0: nothing to weigh
	Strike unit.Celsius  // mean at the pour
	Mean   unit.Celsius  // of the mash by the heat balance alone, water as declared
	For    time.Duration // that the mash has been stirred since
}

// Figures of the pour, chosen on the simulator.
const (
	// usualVolume is how often it is the volume, where nothing else speaks.
	usualVolume = 0.42
	// A fall is known this well: stirring, the grain's temperature.
	pourDoubt unit.Kelvin = 0.3
	// The bed has evened out after this.
	pourEven = 3 * time.Minute
)

// blend is the gain for the mash, where the learned one is the volume's with
// this weight and else the power's.
func (r *round) blend(byPower, volume float64) float64 {
	share := float64(r.waterLoad() / r.mashLoad())
	byVolume := 1 / (share/byPower + 1 - share)
	return (1-volume)*byPower + volume*byVolume
}

// carryPour carries the mean that nothing corrects over a tick.
func (r *round) carryPour(rise Rise) {
	p := &r.s.Law.Poured
	if p.Gain == 0 {
		return
	}
	p.Mean += unit.Celsius(rise.by(r.s.Law.gain()))
	if r.stirred() {
		p.For += r.dt
	}
}

// weighPour decides, when the first heat-up begins, how much of what was
// learned is the volume's: by how far the mash has fallen below what the
// declared water would have, against how far it would with the volume that the
// gain means.
func (r *round) weighPour() {
	l := &r.s.Law
	p := l.Poured
	if p.Gain == 0 || r.step().Kind == profile.MashIn {
		return
	}
	l.Poured = Poured{}
	if p.For < pourEven {
		return
	}
	fell := float64(r.e.Value - p.Mean)
	would := float64(r.fallOf(p))
	likely := func(of float64) float64 {
		return math.Exp(-of * of / (2 * float64(pourDoubt) * float64(pourDoubt)))
	}
	volume, power := usualVolume*likely(fell-would), (1-usualVolume)*likely(fell)
	if volume+power > 0 {
		l.Gain *= r.blend(p.Gain, volume/(volume+power)) / r.blend(p.Gain, usualVolume)
	}
}

// fallOf is by how much the mash would have landed beside the plan if all of the
// gain were volume.
func (r *round) fallOf(p Poured) unit.Kelvin {
	water := float64(r.waterLoad())
	grain := float64(r.mashLoad()) - water
	planned := float64(r.s.Steps[1].Target)
	of := (planned*(water+grain) - water*float64(r.s.Steps[0].Target)) / grain // the grain's temperature, its slaking in it
	land := func(water float64) float64 { return (water*float64(p.Strike) + grain*of) / (water + grain) }
	return unit.Kelvin(land(water/p.Gain) - land(water))
}
