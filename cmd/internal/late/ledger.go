package late

import (
	"time"

	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
)

// Second is what one tick tells. It is made of a frame, or of a record's tick.
type Second struct {
	Clock       time.Duration // since arming
	Mode        controller.Mode
	Reason      controller.Reason
	Index       uint8
	Kind        profile.Kind
	Stage       controller.Stage
	Prompt      controller.Prompt
	Earned      time.Duration
	For         time.Duration // of the step, as edited
	Reached     bool
	Target      unit.Celsius
	HasTarget   bool
	Estimate    unit.Celsius
	HasEstimate bool
	Duty        unit.Duty
	Applied     unit.Relay
	Pump        unit.Relay
	Cut         bool // heat is withheld for a while
	Command     controller.Command
	Events      []controller.Event // read, never kept
}

// Ledger keeps the account of one batch. Its zero value knows no plan and books
// nothing; New makes one. It is not for two goroutines at once.
type Ledger struct {
	plan    Planned
	began   bool
	clock   time.Duration
	at      time.Duration // of the plan, where the batch stands
	parts   []Part
	heatUps []heatUp
	mode    controller.Mode
	reason  controller.Reason // of the last hold
	index   uint8
	stage   controller.Stage
	pouring time.Duration // for how long grain has been going in
	since   time.Duration // it went in
	asked   time.Duration // for how long "did grain go in?" has stood
	blame   blame
	longer  [profile.MaxSteps + 1]time.Duration // of each step, against the plan
	pressed [profile.MaxSteps + 1]time.Duration // of it, what a person asked for before the step began
	lidOff  bool
	extra   unit.Litres // that is known to be in the kettle beyond the plan
	base    unit.Litres // of it, what was there all along and was read later
	read    bool        // somebody has read a volume
}

// blame is what keeps a batch from where it should be, until it is there.
type blame struct {
	cause Cause
	place Place
	calm  time.Duration // for how long the clock has run since
	set   bool
}

// calmAfter is how long a rest has to run until what came before is forgotten.
const calmAfter = 5 * time.Minute

// New is the empty account of a batch with this plan.
func New(p Planned) *Ledger { return &Ledger{plan: p} }

// Planned is the plan that it counts against.
func (l *Ledger) Planned() *Planned { return &l.plan }

// Account is how late the batch is now; false before it has begun.
func (l *Ledger) Account() (Account, bool) {
	if l == nil || !l.began {
		return Account{}, false
	}
	a := Account{Late: l.clock - l.at, Clock: l.clock, Parts: append([]Part(nil), l.parts...)}
	for i := range l.heatUps {
		for _, p := range l.split(&l.heatUps[i]) {
			a.Parts = add(a.Parts, p)
		}
	}
	a.Parts = sorted(a.Parts)
	return a, true
}

// By is how late it is, and that by cause, for those who ask every second; false
// before the batch has begun.
func (l *Ledger) By() (total time.Duration, by [Causes]time.Duration, known bool) {
	if l == nil || !l.began {
		return 0, by, false
	}
	for i := range l.parts {
		by[l.parts[i].Cause] += l.parts[i].Took
	}
	for i := range l.heatUps {
		for _, p := range l.split(&l.heatUps[i]) {
			by[p.Cause] += p.Took
		}
	}
	return l.clock - l.at, by, true
}

// Take books one second.
func (l *Ledger) Take(s *Second) {
	if len(l.plan.Steps) == 0 || s.Mode == controller.Idle || l.mode.Ended() {
		return
	}
	if !l.began {
		l.began, l.at = true, l.plan.Steps[0].Start
		l.index, l.stage, l.blame = s.Index, s.Stage, blame{Water, Start, 0, true}
	}
	dt := s.Clock - l.clock
	l.clock = s.Clock
	l.time(s, dt)
	l.hear(s)
	was := l.at
	l.at = l.stands(s)
	l.book(s, dt, l.at-was)
	l.edited(s)
	l.mode, l.index, l.stage = s.Mode, s.Index, s.Stage
}

// time measures how long the grain goes in, has been in, and has been asked for.
func (l *Ledger) time(s *Second, dt time.Duration) {
	switch {
	case s.Mode != controller.Running:
	case s.Prompt == controller.AskDidGrainGo:
		l.asked += dt
	case s.Stage == controller.Pour && l.stage == controller.Pour:
		l.pouring += dt
	case s.Stage == controller.Pour:
		l.pouring = 0
	case s.Stage == controller.Settle && l.stage != controller.Settle:
		l.since, l.asked = l.asked, 0 // it was in when it was asked
	case s.Stage == controller.Settle, s.Stage == controller.Mix:
		l.since += dt
	default:
		l.asked = 0
	}
}

// stands is the instant of the plan that the batch has come to. A step that was
// made longer pushes all of itself back, at once.
func (l *Ledger) stands(s *Second) time.Duration {
	if s.Mode == controller.Complete {
		return l.plan.Finishes
	}
	p := l.plan.Step(s.Index)
	if s.Mode != controller.Running || p == nil {
		return l.at
	}
	return l.within(s, p) - l.longer[s.Index]
}

func (l *Ledger) within(s *Second, p *PlannedStep) time.Duration {
	none := l.at + l.longer[s.Index]
	switch s.Stage {
	case controller.Heat, controller.Climb, controller.Break:
		switch {
		case s.Reached && s.Stage == controller.Heat:
			return p.Reached
		case !s.HasEstimate:
			return none
		case p.Target < p.From-1 && s.Stage == controller.Heat:
			return l.plan.falls(p, s.Estimate)
		case s.Stage == controller.Climb:
			return min(p.Reached-p.Gentle, l.plan.climbs(p, s.Estimate))
		case s.Stage == controller.Break:
			return max(p.Reached-p.Gentle, l.plan.climbs(p, s.Estimate))
		}
		return l.plan.climbs(p, s.Estimate)
	case controller.Ready, controller.Hoist, controller.Drain:
		return p.End
	case controller.Pour:
		return min(l.plan.pours(p)+l.pouring, p.Start)
	case controller.Settle, controller.Mix:
		return min(p.Start+l.since, p.End)
	case controller.Count, controller.Boil:
		return p.Reached + min(s.Earned, s.For)
	case controller.Door:
		return p.Reached - p.Gentle
	case controller.Connect:
		return p.Start
	case controller.Cool:
		if s.HasEstimate {
			return l.plan.falls(p, s.Estimate)
		}
	case controller.NoStage, controller.Still, controller.Push, controller.Quiet:
	}
	return none
}

// hear takes what changes the plan that is counted against.
func (l *Ledger) hear(s *Second) {
	switch s.Mode {
	case controller.Held:
		l.reason = s.Reason
	case controller.Offered:
		l.reason = controller.PowerCut
	default:
		l.reason = controller.NoReason
	}
	for _, e := range s.Events {
		switch e.Kind {
		case controller.LidMoved:
			l.lidOff = e.Value != 0
			l.blame = blame{Lid, Deed, 0, l.lidOff}
		case controller.WaterAdded, controller.WaterTaken:
			litres := unit.Litres(e.Value)
			if e.Kind == controller.WaterTaken {
				litres = -litres
			}
			l.extra += litres
			l.blame = blame{Water, Deed, 0, true}
		case controller.VolumeRead:
			l.hasRead(unit.Litres(e.Value), 0)
		case controller.Accepted:
			if s.Command.Wish == controller.Drained && s.Command.Volume > 0 {
				l.hasRead(s.Command.Volume, drainDoubt*unit.Litres(l.plan.Grain))
			}
		}
	}
}

// drainDoubt is how well anyone knows what wet grain keeps, L/kg (common practice,
// no source): a volume after the lift that is off by less speaks for no other
// volume before it.
const drainDoubt = 0.15

// hasRead takes a volume as read: it says what was in the kettle all along.
func (l *Ledger) hasRead(cold, doubt unit.Litres) {
	planned := l.plan.Water
	if l.plan.Step(l.index) != nil && l.lifted() {
		planned = l.plan.Lifted
	}
	off := cold - planned - l.extra
	if !l.read && (off > doubt || off < -doubt) {
		l.base = off
	}
	l.extra += off
	l.read = true
}

// lifted tells whether the grain is out, or on its way.
func (l *Ledger) lifted() bool {
	p := l.plan.Step(l.index)
	for i := range l.plan.Steps {
		if s := &l.plan.Steps[i]; s.Kind == profile.Lift && s.Index <= p.Index {
			return true
		}
	}
	return false
}
