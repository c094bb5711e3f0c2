package tune

import (
	"math"
	"time"

	"mashward/controller/unit"
)

// Used are the figures that a batch was run with.
type Used struct {
	Power unit.Watts // with the capacity that the plan counted with
	Loss  unit.WattsPerKelvin
	Lag   time.Duration // 0: none, it was learned on the way
}

// Differences tell in which figures a batch shows another kettle than the one
// it was run with. The zero value is none.
type Differences struct {
	Power, Loss, Lag bool
}

// Any tells whether there is one.
func (d Differences) Any() bool { return d.Power || d.Loss || d.Lag }

// What a difference must exceed, besides twice its doubt, to be worth a word.
const (
	// Marks on a kettle and the plate of an element are good for some 5 % (common
	// practice, no source). Mains 5 % off make 10 % of power, which a batch cannot
	// tell from this: whoever says it has to say so.
	worthPower = 0.05
	// A loss counts by what it takes from full power in a mash. A draught, or a lid
	// that does not close, do as much on one day, and holding learns it anyway.
	worthLoss             = 0.1
	mashAbove unit.Kelvin = 50
	// The lag that is found depends on what stands in the kettle and how it is
	// turned over.
	worthLag      = 0.5
	worthLagLeast = 10 * time.Second
)

// Differs compares what was found with what was used. A fit that was not
// accepted says nothing.
func (r Result) Differs(u Used) Differences {
	if !r.Accepted() || !(u.Power > 0) || r.Model.Power <= 0 {
		return Differences{}
	}
	power := math.Abs(float64(r.Model.Power/u.Power) - 1)
	loss := math.Abs(float64(r.Model.Loss - u.Loss))
	lag := (r.Model.Lag() - u.Lag).Abs()
	share := loss * float64(mashAbove) / float64(u.Power)
	return Differences{
		Power: power > max(worthPower, 2*r.Doubt),
		Loss:  share > worthLoss && loss > 2*r.LossSD*float64(r.Model.Loss),
		Lag:   u.Lag > 0 && lag > max(worthLagLeast, time.Duration(worthLag*float64(u.Lag)), 2*r.LagSD),
	}
}
