package controller

import (
	"math"

	"mashward/controller/unit"
	"mashward/profile/heat"
)

// A boil is not driven further from its plan than this: what was learned may be of
// another volume than was read. A rise that is nearer than leastOff to the declared
// one is no reason to leave it: a bed and a probe make as much of it. One that is
// further off than mostOff is not the mains' doing: water went in that nobody told of.
const (
	leastVigour = 0.8
	mostVigour  = 1.25
	leastOff    = 0.05
	mostOff     = 0.16 // mains 5 % high, the plate 2 %, and what a probe makes of it
)

// vigour is the duty that evaporates what was asked for:
//
//	duty = (loss + air + steam) / (strength x power) + spare
//
// The batch has shown how fast this kettle rises at full power, last in the climb,
// with a volume that was read: that is its strength. Where no water test knows the
// loss, what holding the rests took beyond the declared one is spare.
func (r *round) vigour() unit.Duty {
	step, l := r.step(), &r.s.Law
	planned := step.Duty.Clamp()
	if !(step.Steam > 0) || planned >= 1 || r.c.Power <= 0 {
		return planned
	}
	at, power, spare := r.c.Boiling, float64(r.c.Power), 0.0
	if off := math.Abs(l.gain() - 1); off > leastOff && off < mostOff {
		power *= l.gain()
	}
	if r.c.Model.Power == 0 && l.SpareAt > r.c.Room {
		spare = l.Spare * float64(at-r.c.Room) / float64(l.SpareAt-r.c.Room)
	}
	loss := heat.HoldPower(r.c.Loss, r.c.Room, at) + heat.OpenAir(r.c.Surface, r.c.Room, at)
	duty := unit.Duty(float64(loss+step.Steam)/power + spare)
	return min(max(duty, leastVigour*planned), mostVigour*planned).Clamp()
}
