package controller

import (
	"time"

	"mashward/controller/unit"
)

// UnheatedPatience is how long a pump may stand whose hose the probe sits in before
// that is an alarm: time enough to clear a hose. A heat-up is as much later.
const UnheatedPatience = 2 * time.Minute

// heated tells that this stage is one in which the kettle is brought to a temperature
// or kept there, if only something is known of it.
func (s Stage) heated() bool {
	switch s {
	case Heat, Ready, Count, Drain, Climb, Door, Break, Boil, Push:
		return true
	case NoStage, Pour, Settle, Mix, Hoist, Connect, Cool, Still, Quiet:
	}
	return false
}

// unheated tells that there is no heat only because the reading says nothing of the
// kettle. While a bed rests or a question of grain stands, there would be none anyway.
func (r *round) unheated() bool {
	s := r.s
	return s.Mode.Heats() && s.Stage.heated() && s.BedRest == 0 && !s.AskedGrain && !s.Bare && r.blind()
}

// standsStill is the same for a pump that stands, as where a person has turned it off.
func (r *round) standsStill() bool { return r.unheated() && r.s.Pump == unit.Off }

// timeUnheated times it.
func (r *round) timeUnheated() {
	if r.standsStill() {
		r.s.UnheatedFor += r.dt
	} else {
		r.s.UnheatedFor = 0
	}
}
