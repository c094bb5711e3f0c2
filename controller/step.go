package controller

import (
	"time"

	"mashward/controller/unit"
	"mashward/profile"
	"mashward/sensors/estimate"
)

// Core is the controller for one kettle and one day.
type Core struct {
	Config Config
}

// round is one call of Step: what came in, what is remembered, what goes out.
type round struct {
	c  *Config
	s  *State
	t  *Tick
	dt time.Duration
	e  estimate.Estimate
	d  Decision
}

// Step carries the batch over one tick. It is pure: the same state and tick
// give the same decision, on the kettle, on the simulator and in a replay.
func (c *Core) Step(s State, t Tick) (State, Decision) {
	r := round{c: &c.Config, s: &s, t: &t}
	r.tellTime()
	r.look()
	r.heedTrip()
	r.obey()
	r.consider()
	r.countDown()
	r.boiledAway()
	if s.Mode == Running {
		r.walk()
	}
	r.watch()
	r.stir()
	r.heat()
	r.report()
	return s, r.d
}

// tellTime finds how long the last tick was. Time that does not move forward
// is no time; a gap is said, and earns nothing.
func (r *round) tellTime() {
	if r.s.Begun && r.t.Now > r.s.Last {
		r.dt = r.t.Now - r.s.Last
	}
	if r.dt > GapLimit {
		r.event(TimeGap, r.dt.Seconds())
	}
	if r.s.Mode.Heats() || r.s.Mode == Held {
		r.s.Clock += r.dt
	}
	if r.s.Mode == Offered {
		r.s.Outage.Length += r.dt
		r.sayOffered()
	}
	r.s.Begun, r.s.Last = true, max(r.t.Now, r.s.Last)
}

// sayOffered says once that the batch is offered, in the first tick of the new
// process.
func (r *round) sayOffered() {
	if !r.s.Begun {
		r.event(ModeChanged, float64(Offered))
	}
}

// look filters the reading. What was read while heat was withheld may be why, as of
// a probe in air: the filter then begins with what is read now.
func (r *round) look() {
	if r.s.Withheld && !r.t.Inhibited {
		r.s.Filter = estimate.State{Rejected: r.s.Filter.Rejected}
	}
	r.s.Withheld = r.t.Inhibited
	rise := unit.KelvinPerSecond(0)
	if r.s.Load > 0 && r.t.Applied == unit.On {
		rise = unit.KelvinPerSecond(float64(r.c.Power) / float64(r.s.Load))
	}
	r.s.Filter, r.e = estimate.Step(r.s.Filter, r.t.Reading, r.t.Now, r.dt, rise)
}

// heedTrip holds the batch when the interlock has tripped, and when the arming
// has run out: one arming is good for one day.
func (r *round) heedTrip() {
	switch {
	case !r.s.Mode.Heats():
	case r.t.Trip != NoReason:
		r.enterMode(Held, r.t.Trip)
	case r.s.Clock >= r.c.ArmingLasts():
		r.enterMode(Held, NotArmed)
	}
}

// step is the step that runs.
func (r *round) step() *Step { return &r.s.Steps[r.s.Index] }

// event notes a fact.
func (r *round) event(kind EventKind, value float64) { r.eventOf(r.s.Index, kind, value) }

// eventOf is the same for a step that need not be the present one.
func (r *round) eventOf(step uint8, kind EventKind, value float64) {
	if r.d.Count == MaxEvents {
		r.d.Dropped++
		return
	}
	r.d.Events[r.d.Count] = Event{Kind: kind, Step: step, Value: value}
	r.d.Count++
}

// enterMode changes the batch's state. Leaving the heating states forgets
// everything that could heat.
func (r *round) enterMode(m Mode, why Reason) {
	r.s.Mode, r.s.Reason = m, why
	if !m.Heats() {
		r.s.Law.stop()
		r.s.PumpIn = 0
	}
	r.event(ModeChanged, float64(m))
}

// mash is the estimate of the mash (of the water or wort where there is no
// mash): what a fitted model shows, else the reading. While heat is on its way
// through the kettle, the colder of that and the heat balance is believed: a
// rest never starts too early.
func (r *round) mash() unit.Celsius {
	mash := r.e.Value
	if r.s.Sight.Trusted {
		mash = r.s.Sight.Mean
	}
	if r.s.Law.Way == Full || r.s.Law.Way == Coast {
		return min(r.s.Law.Mean, mash)
	}
	return mash
}

// watch raises and clears the alarms.
func (r *round) watch() {
	var now Alarms
	if r.s.Mode.Heats() {
		now = r.alarms()
	}
	for a := range now {
		if now[a] && !r.s.Alarms[a] {
			r.event(AlarmRaised, float64(a))
		}
		if !now[a] && r.s.Alarms[a] {
			r.event(AlarmCleared, float64(a))
		}
	}
	r.s.Alarms = now
}

// alarms are the conditions that want a person.
func (r *round) alarms() Alarms {
	s := r.s
	counting := s.Stage == Count && s.Reached
	over := r.mash().Minus(r.step().Target)
	band := HotBand
	if s.Alarms[AlarmHot] {
		band = HotBand - 0.1 // no chatter at the edge
	}
	return Alarms{
		AlarmHot:        counting && over > band,
		AlarmCold:       counting && s.Standing && s.StoodStill >= ColdPatience,
		AlarmNoBoil:     r.noBoil(),
		AlarmWaiting:    r.overdue(),
		AlarmLevel:      r.levelLow(),
		AlarmUnreadable: !r.e.Valid,
		AlarmDeclared:   s.Doubted && !s.GrainIn && r.step().Kind == profile.Strike,
		AlarmWeak:       r.t.Weak,
		AlarmProbe:      s.Deeds.Differs > 0,
		AlarmPumpOff:    s.UnheatedFor >= UnheatedPatience,
	}
}

// report fills in the decision for everyone who watches.
func (r *round) report() {
	s, d := r.s, &r.d
	d.Mode, d.Reason, d.Index, d.Stage = s.Mode, s.Reason, s.Index, s.Stage
	d.Kind, d.Phase, d.Prompt = r.step().Kind, r.phase(), r.prompt()
	d.Alarms, d.Clock, d.Earned, d.Reached = s.Alarms, s.Clock, s.Earned, s.Reached
	d.Pump = s.Pump
	if timed(d.Kind) {
		d.Left = max(0, r.step().For-s.Earned)
	}
	d.Target, d.HasTarget = r.target()
	d.HasEstimate = r.e.Valid
	if r.e.Valid {
		d.Estimate, d.Filtered, d.Slope = r.mash(), r.e.Value, r.e.Slope
	}
	d.Stirred = r.stirred()
	d.Way, d.Gain, d.OnMean = s.Law.Way, s.Law.gain(), s.Sight.Held
	d.Undoes = s.Undo.Left
	d.Armed, d.Lifted, d.Volume = s.Mode.Heats(), s.Lifted, s.Volume
	d.Statement, d.Drawn, d.Deeds = s.Deeds.Statement, s.Deeds.Drawn, s.Deeds.Count
	d.Water, d.Bare, d.LidOff = r.water(), s.Bare, s.Deeds.LidOff
	d.Called, d.In, d.Late, d.Hung = bits(&s.Called), bits(&s.In), s.Late, s.ChillerHung
	d.Unheated = r.unheated() && s.PumpIn == 0
}

// target is the temperature that the kettle is being brought to, if any.
func (r *round) target() (unit.Celsius, bool) {
	if r.s.Mode == Idle || r.s.Mode.Ended() {
		return 0, false
	}
	switch r.s.Stage {
	case Heat, Count, Cool, Pour, Settle, Mix:
		return r.step().Target, true
	case Ready:
		return r.readyTarget(), true
	case Climb, Door, Break, Boil:
		return r.c.Boiling, true
	case Drain:
		return min(GentleMost, r.c.Boiling.Plus(-GentleBelow)), true
	case Connect:
		return r.step().Target, true
	case NoStage, Hoist:
	}
	return 0, false
}

// timed tells whether steps of this kind have a time of their own.
func timed(k profile.Kind) bool {
	switch k {
	case profile.MashIn, profile.Rest, profile.MashOut, profile.Boil, profile.Stand:
		return true
	case profile.Strike, profile.Lift, profile.Chill:
	}
	return false
}

// phase is the stage in one of six words.
func (r *round) phase() Phase {
	if r.s.Mode == Idle || r.s.Mode.Ended() {
		return NoPhase
	}
	switch r.s.Stage {
	case Heat, Climb, Break:
		if r.s.Stage == Heat && r.s.Cooling {
			return Cooling
		}
		return Heating
	case Settle, Mix:
		return Settling
	case Count:
		if !r.s.Reached {
			return Heating
		}
		return Resting
	case Ready, Pour, Hoist, Drain, Door, Connect:
		return Waiting
	case Boil:
		return Boiling
	case Still:
		return Settling
	case Push:
		return Heating
	case Quiet:
		return Resting
	case Cool:
		return Cooling
	case NoStage:
	}
	return NoPhase
}
