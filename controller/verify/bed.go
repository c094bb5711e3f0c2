package verify

// In a bed the pump may stop and the reading rises on, half as fast: through the bag
// the wort outside, which then gets hot, warms it. What tells it from a lid that was
// taken off, which costs a weak kettle as much, is the first minutes: less is seen of
// the power than a lid takes, measured by what was seen in this mash's heat-ups before.

// heatsUp tells of a steady heat-up: no rest takes so much power for so long.
func (r *round) heatsUp() bool { return r.s.Long > heatUp && r.s.Due > fullDue }

// halfInBed is the share of the power that may be missing.
func (r *round) halfInBed() float64 {
	if r.heatsUp() && r.s.Slow < begun {
		return leastAtFirst
	}
	return leastInBed
}

// weighBed adds up how much less of the power is seen than before, and than noise makes.
func (r *round) weighBed(rough float64) {
	s := r.s
	if r.p.Place != Bed || s.Scene != flowing || r.t.Open {
		s.Base, s.BaseFor, s.Fell = 0, 0, 0
		return
	}
	if !r.heatsUp() || s.Recent[2] > r.p.Boiling-nearBoil {
		s.Fell = 0
		return
	}
	seen, before := s.Due+s.Share, s.Due+s.Base
	if s.BaseFor >= baseLeast {
		s.Fell = max(0, s.Fell+(bedLeft*before-seen-rough)*r.dt)
	}
	if s.BaseFor < baseLeast || seen > baseKept*before {
		s.BaseFor = min(s.BaseFor+r.dt, baseOver)
		s.Base += (s.Share - s.Base) * min(r.dt/s.BaseFor, 1)
	}
}

// weaker is by how much less comes than most of the power. When a heat-up begins
// nobody knows how late a probe within the bag follows: there nothing counts yet.
func (r *round) weaker(missing, open float64) float64 {
	by := missing - leastWeak*r.s.Due - open/2
	if r.p.Place == Bed && r.s.Due-r.s.Slow > beginsBy {
		return min(by, 0)
	}
	return by
}
