package late

import (
	"math"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/heat"
)

// heatUp is the account of one heat-up, with what is not yet known of it: how much
// of what it took longer was power or water is worked out whenever it is asked, by
// all that is known by then.
type heatUp struct {
	step  uint8
	brk   bool          // through the hot break: steam takes what the plan can only guess
	rest  time.Duration // that no cause has taken yet
	moved float64       // s of the plan that it covered
	gone  float64       // s of the plan, in the window that tells the pace
	took  float64       // s that they took, in the window
	even  time.Duration // for how long full power has gone in undisturbed
	told  float64       // s that water which was told of takes of moved
	read  bool          // the volume had been read before it
	load  unit.JoulesPerKelvin
}

const (
	// A rate is that of the whole kettle once element, mash and probe have come
	// into step: after so long at full power (some time constants of a kettle of the
	// house's domain, probe in the wort).
	evenAfter = 150 * time.Second
	// leastWindow is what makes a rate, s: a minute of rise is 15 times what a probe
	// of 0.06 K steps can be off by.
	leastWindow = 60
	// A kettle is never this much stronger or weaker than planned.
	leastPace = 0.3
	mostPace  = 2
	fullDuty  = 0.98
)

// last is the heat-up of a step that was booked last; nil: none.
func (l *Ledger) last(step uint8) *heatUp {
	if n := len(l.heatUps); n > 0 && l.heatUps[n-1].step == step {
		return &l.heatUps[n-1]
	}
	return nil
}

// heats books a second on the way to a target.
func (l *Ledger) heats(s *Second, dt, gone time.Duration) {
	p, off := l.plan.Step(s.Index), dt-gone
	h := l.last(s.Index)
	if brk := s.Stage == controller.Break; h == nil || l.index != s.Index || h.brk != brk {
		l.heatUps = append(l.heatUps, heatUp{step: s.Index, brk: brk, read: l.read, load: l.plan.capacity(p)})
		h = l.last(s.Index)
	}
	if booked := l.enters(s, gone); booked != 0 {
		off, gone, h.even = off-booked, 0, 0
	}
	if l.retargeted(s) && l.at+l.longer[s.Index] >= p.Reached {
		l.put(Profile, HeatUp, s.Index, off)
		return
	}
	known := l.known(s, h, dt)
	h.rest += off - known
	l.pace(s, h, dt-known, gone)
}

// known books what is known to have taken heat away in this second, as the time
// that it costs.
func (l *Ledger) known(s *Second, h *heatUp, dt time.Duration) time.Duration {
	if !s.HasEstimate || s.Kind == profile.Boil && s.Stage == controller.Break {
		return 0
	}
	spare := l.plan.surplus(s.Estimate)
	cost := func(watts float64) time.Duration { return time.Duration(math.Min(3, watts/spare) * float64(dt)) }
	switch {
	case s.Cut:
		c := cost(float64(l.plan.Power))
		l.put(Power, Cut, s.Index, c)
		return c
	case l.plan.Pump && s.Pump == unit.Off && s.Duty == 0 && l.mashing(s):
		c := cost(float64(l.plan.Power))
		l.put(Pump, HeatUp, s.Index, c)
		return c
	case l.lidOff:
		c := cost(float64(heat.OpenLoss(l.plan.Surface, l.plan.Room, s.Estimate)))
		l.put(Lid, HeatUp, s.Index, c)
		return c
	}
	return 0
}

// mashing tells that the grain is in and the pump should run.
func (l *Ledger) mashing(s *Second) bool {
	return s.Stage == controller.Heat && (s.Kind == profile.Rest || s.Kind == profile.MashOut)
}

// pace measures how fast full power carries the plan on.
func (l *Ledger) pace(s *Second, h *heatUp, dt, gone time.Duration) {
	h.moved += gone.Seconds()
	if h.load > 0 {
		h.told += gone.Seconds() * float64(heat.WaterCapacity(l.extra)/h.load)
	}
	if s.Cut || s.Duty < fullDuty || s.Applied != unit.On || !s.HasEstimate || h.brk || h.load <= 0 {
		h.even = 0
		return
	}
	if h.even += dt; h.even > evenAfter {
		h.gone += gone.Seconds()
		h.took += dt.Seconds()
	}
}

// paceOf is planned over real time at full power: of this heat-up, else of the day
// so far; 1 where neither tells.
func (l *Ledger) paceOf(h *heatUp) float64 {
	if h.took < leastWindow {
		return l.pooled()
	}
	return within(h.gone, h.took)
}

// pooled is that of the day so far.
func (l *Ledger) pooled() float64 {
	gone, took := 0.0, 0.0
	for i := range l.heatUps {
		gone, took = gone+l.heatUps[i].gone, took+l.heatUps[i].took
	}
	return within(gone, took)
}

func within(gone, took float64) float64 {
	if took < leastWindow {
		return 1
	}
	return min(max(gone/took, leastPace), mostPace)
}

// split shares out what a heat-up took longer. What the plan's way took longer at
// the pace of full power is power's or water's; the rest is what every kettle takes.
func (l *Ledger) split(h *heatUp) [4]Part {
	longer, water, place := 0.0, 0.0, HeatUp
	if h.load > 0 {
		if l.read && !h.read {
			water = float64(heat.WaterCapacity(l.base) / h.load)
		}
		switch {
		case h.brk:
			place, longer = Break, l.breakLonger(h)+h.told
		case h.moved >= leastWindow:
			longer = h.moved * (1/l.paceOf(h) - 1)
		}
		water = h.told + h.moved*water
	}
	total, waters := seconds(longer), seconds(water)
	out := [4]Part{
		{Settling, place, h.step, h.rest - total},
		{Water, place, h.step, waters},
		{Power, place, h.step, 0},
		{PowerOrWater, place, h.step, 0},
	}
	if h.read || l.read {
		out[2].Took = total - waters
	} else {
		out[3].Took = total - waters
	}
	return out
}

func seconds(x float64) time.Duration { return time.Duration(math.Round(x)) * time.Second }

// breakLonger is by how much less power makes the gentle way to the boil longer, s, by
// what the heat-ups before it have shown; steam takes too much of it to measure that
// here.
func (l *Ledger) breakLonger(h *heatUp) float64 {
	p := l.plan.Step(h.step)
	end, to := l.plan.turn(p)
	if p.Reached <= end || p.Target <= to {
		return 0
	}
	const some unit.Celsius = 60 // in the middle of the heat-ups
	missing := l.plan.surplus(some) * (1 - l.power())
	planned := float64(h.load) * float64(p.Target-to) / (p.Reached - end).Seconds() // W
	left := max(planned/4, planned-float64(controller.GentleDuty)*missing)
	return h.moved * (planned/left - 1)
}

// power is the pace of the day so far without what is known to be water's.
func (l *Ledger) power() float64 {
	gone, took := 0.0, 0.0
	for i := range l.heatUps {
		h := &l.heatUps[i]
		if h.took <= 0 || h.moved <= 0 {
			continue
		}
		more := h.told / h.moved
		if l.read && !h.read {
			more += float64(heat.WaterCapacity(l.base) / h.load)
		}
		gone, took = gone+h.gone*(1+more), took+h.took
	}
	return within(gone, took)
}
