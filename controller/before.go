package controller

import (
	"time"

	"mashward/controller/unit"
)

// Before keeps for some minutes what the readings have done to the means beside
// the heat balance. A person tells of water some time after it went in: what the
// readings have shown of it by then must not count a second time.
type Before struct {
	Balance unit.Kelvin // rise by the heat balance alone
	Law     [beforeSlots]float32
	Sight   [beforeSlots]float32
	Extra   [beforeSlots]float32 // W
	Gain    [beforeSlots]float32 // as the law had learned them
	Spare   [beforeSlots]float32
	Head    uint8
	Filled  uint8
	In      time.Duration // into the present slot
}

// mixFor, in slots.
const (
	beforeSlot  = 30 * time.Second
	beforeSlots = int(mixFor / beforeSlot)
)

// keepBefore notes where the means stand beside the heat balance.
func (r *round) keepBefore() {
	l, o := &r.s.Law, &r.s.Sight
	b := &l.Before
	if !r.s.Mode.Heats() {
		*b = Before{}
		return
	}
	if b.In += r.dt; b.In < beforeSlot && b.Filled > 0 {
		return
	}
	b.Law[b.Head] = float32(float64(l.Mean) - float64(b.Balance))
	b.Sight[b.Head] = float32(float64(o.Mean) - float64(b.Balance))
	b.Extra[b.Head], b.Gain[b.Head], b.Spare[b.Head] = float32(o.Extra), float32(l.Gain), float32(l.Spare)
	b.Head, b.Filled, b.In = (b.Head+1)%uint8(beforeSlots), min(b.Filled+1, uint8(beforeSlots)), 0
}

// oldest is the slot that was filled first.
func (b *Before) oldest() int { return (int(b.Head) + beforeSlots - int(b.Filled)) % beforeSlots }

// unlearn takes back what a loop that saw cold water and knew nothing of it has
// learned from that.
func (r *round) unlearn() {
	l := &r.s.Law
	if l.Before.Filled == 0 || l.Way != Holding {
		return
	}
	i := l.Before.oldest()
	l.Gain, l.Spare = float64(l.Before.Gain[i]), float64(l.Before.Spare[i])
	l.PID.Integral = l.Spare
}

// before is the law's mean by the heat balance from some minutes ago.
func (r *round) before() unit.Celsius {
	l := &r.s.Law
	if l.Before.Filled == 0 {
		return l.Mean
	}
	return unit.Celsius(float64(l.Before.Law[l.Before.oldest()]) + float64(l.Before.Balance))
}

// sightBefore is the same of the model's mean, with the power at work then that
// nobody declared. It is known while the model has shown it for so long.
func (r *round) sightBefore() (mean unit.Celsius, extra unit.Watts, known bool) {
	b := &r.s.Law.Before
	if b.Filled == 0 || r.s.Sight.Seen < sightAfter+mixFor {
		return 0, 0, false
	}
	i := b.oldest()
	return unit.Celsius(float64(b.Sight[i]) + float64(b.Balance)), unit.Watts(b.Extra[i]), true
}
