package controller

import (
	"math"
	"time"

	"mashward/controller/modulate"
	"mashward/controller/pid"
	"mashward/controller/unit"
)

// Law is the memory of the heat law.
//
// The probe answers late: heat put in now shows minutes later. What answers at
// once is the energy-mean temperature of all that stands in the kettle, known
// from a heat balance of the power really applied. A heat-up runs at full
// power until that mean is at the target, then holds, lets the lags die away,
// and only then hands over to the PID loop on the filtered reading.
type Law struct {
	Way     Way
	InWay   time.Duration
	Steady  time.Duration // the same since heat was withheld, or no reading there, last
	Target  unit.Celsius
	Origin  unit.Celsius  // filtered reading where the heat-up began
	Mean    unit.Celsius  // energy-mean temperature by the heat balance
	Course  unit.Celsius  // where a ramp with a ceiling should be now
	Gain    float64       // measured over declared rise; 0 until first used = 1
	Lag     time.Duration // of the reading behind the mean, learned on the strike heat-up
	Lead    unit.Kelvin   // of the reading over the mean at full power; 0: not known
	Shorts  uint8         // heat-ups to this target that fell short
	Spare   float64       // duty beyond the declared loss that holding took
	SpareAt unit.Celsius  // where it was held
	Mark    unit.Celsius  // filtered reading when the slope began to be trusted
	Raw     Rise          // since Origin, by the declared figures alone
	RawAt   Rise          // Raw at the mark
	Marked  bool
	Proven  Rise // of Raw: what a slope has been held against
	Landed  bool // Mean comes from the mash-in's heat balance: the reading is not even yet
	Poured  Poured
	Before  Before
	Told    bool        // water went in during this heat-up: it teaches nothing
	Water   unit.Litres // cold, that went in during it, as was told
	// Awaited is the reading from which on water that was told of has shown; 0:
	// none is awaited.
	Awaited unit.Celsius
	PID     pid.State
	Asked   float64 // unclamped output of the loop in the last tick
	Gave    float64 // duty asked for in the last tick
}

// Way is how the law is bringing the kettle to its target.
type Way uint8

// The ways. The zero value asks for no heat.
const (
	NoHeat  Way = iota
	Full        // full power, or along a ramp, until the heat balance says enough
	Coast       // holding power only, until the lags have died away
	Holding     // the PID loop
)

var wayNames = [...]string{"off", "full", "coast", "hold"}

// String is the way in one word.
func (w Way) String() string { return named(wayNames[:], int(w)) }

// Figures of the law. Those without a source were chosen on the simulator.
const (
	defaultLag = 60 * time.Second
	leastLag   = 30 * time.Second
	mostLag    = 180 * time.Second
	// A heat-up aims a little low: what is missing is added in a minute, what is
	// too much takes many to go; more so where a mash rises far, for what is unsure
	// of it grows with the rise.
	aimBelow unit.Kelvin = 0.05
	mashAim  unit.Kelvin = 0.08
	// A short second push starts from a reading that has hardly settled.
	aimAgain unit.Kelvin = 0.1
	// A gap below this is left to the PID loop.
	smallGap unit.Kelvin = 0.2
	// Settled: the reading has kept within this for settleSpan.
	settleBand unit.Kelvin = 0.12
	pulseBand  unit.Kelvin = 0.25 // where a mechanical relay's pulses show
	settleSpan             = 2 * time.Minute
	coastMost              = 10 * time.Minute
	mostShorts             = 3
	// For minutes after full power it is so much colder outside the bed than within.
	bedShadow unit.Kelvin = 0.25
	// Flat: too short a heat-up shows within a minute and a quarter.
	flatBand  unit.Kelvin = 0.08
	flatAfter             = 75 * time.Second
	// Before the first hold the loss is known to a fifth: while nothing is missing
	// a little less is given, for what is too much takes many minutes to go.
	coastShare unit.Duty = 0.85
	// So far below its target a coast that still falls will not come back to it.
	awayBand unit.Kelvin = 0.6
	// A model that shows the mean need not wait for the reading to settle, where the
	// heat balance says the same.
	sightCoast              = 45 * time.Second
	sightAgrees unit.Kelvin = 0.1
	// After so long in a coast the reading begins to tell more than the balance.
	evenAfter = 90 * time.Second
	// A reading further above the target than probes lead their mash in a heat-up
	// ends it, whatever the balance says. Where it has been seen to lead by more it
	// may, short of the 5 K above the hottest target that trip.
	usualLead unit.Kelvin = 2.5
	mostLead  unit.Kelvin = 4
	moreLead  unit.Kelvin = 0.8
	// A lead is known after so long in a heat-up; it is never less than this,
	// and a margin stays for what the probe lags. The least power still climbs.
	leadAfter              = 3 * time.Minute
	leastLead  unit.Kelvin = 0.2
	leadMargin unit.Kelvin = 0.35
	leastClimb             = 0.1
	// A reading further from the mash-in's heat balance than this means that
	// grain or water were not as declared.
	mostLanding unit.Kelvin = 0.3
	// A heat-up that went further off than this was disturbed and teaches
	// nothing.
	oddRatio = 0.25
	// Strike water is ready for the grain when it keeps within this for so long.
	strikeBand  unit.Kelvin = 0.15
	strikeStill             = 90 * time.Second
	// The slope of a heat-up is trusted after this, and over this rise.
	slopeAfter                = 3 * time.Minute
	bedSlopeAfter             = 8 * time.Minute
	slopeRise     unit.Kelvin = 5
	// What was heated before it was trusted is put right by no more than this.
	mostEarly  unit.Kelvin = 0.3
	learnRise  unit.Kelvin = 4
	leastSpare             = -0.2
	mostSpare              = 0.4
	leastGain              = 0.5
	mostGain               = 1.6
)

// stop leaves the target: no heat until a new one is given.
func (l *Law) stop() {
	l.Way, l.InWay, l.Asked = NoHeat, 0, 0
}

// enter changes the way.
func (l *Law) enter(w Way) {
	l.Way, l.InWay, l.Steady = w, 0, 0
}

// balance carries the energy-mean temperature over the last tick: power really
// applied, less the declared loss, less what holding has shown to be lost
// beyond it.
func (r *round) balance() {
	l := &r.s.Law
	if r.s.Load <= 0 {
		return
	}
	applied := 0.0
	if r.t.Applied == unit.On {
		applied = 1
	}
	power := float64(r.c.Power) * (applied - l.Spare)
	loss := float64(r.c.Loss)*float64(l.Mean-r.c.Room) + r.openLoss(l.Mean)
	rise := Rise{
		Scaled: unit.Kelvin((power - loss/2) / float64(r.s.Load) * r.dt.Seconds()),
		Lost:   unit.Kelvin(loss / 2 / float64(r.s.Load) * r.dt.Seconds()),
	}
	l.Raw = l.Raw.plus(rise)
	l.Mean += unit.Celsius(rise.by(l.gain()))
	r.carryPour(rise)
	l.Before.Balance += rise.by(l.gain())
	l.Steady += r.dt
	if !r.e.Valid || r.t.Inhibited {
		l.InWay, l.Steady, l.Marked = l.InWay+r.dt, 0, false
		return
	}
	if (l.Way == NoHeat || l.Way == Holding) && !l.Landed {
		// Nothing moves fast: the reading tells the truth, slowly.
		l.Mean += (r.e.Value - l.Mean) * unit.Celsius(min(1, r.dt.Seconds()/240))
	}
	if l.Way == Coast && l.InWay > evenAfter {
		l.Mean += (r.e.Value - l.Mean) * unit.Celsius(min(1, r.dt.Seconds()/evenAfter.Seconds()))
	}
	l.InWay += r.dt
	r.keepBefore()
}

// lossDuty is the declared loss at a temperature as a share of the declared
// power.
func (r *round) lossDuty(at unit.Celsius) float64 {
	if r.c.Power <= 0 {
		return 0
	}
	return max(0, (float64(r.c.Loss)*float64(at-r.c.Room)+r.openLoss(at))/float64(r.c.Power))
}

// holding is the duty at which a kettle with the learned gain neither rises nor
// falls: the two halves of a Rise in balance. A kettle that heats faster than
// declared may do so with less water, and then loses as much as ever: it gets no
// less than the declared loss.
func (r *round) holding(at unit.Celsius) float64 {
	return r.lossDuty(at) * max(1, (1+1/r.s.Law.gain())/2)
}

// reach is the law: the duty that brings the kettle to target and keeps it
// there. ramp is a ceiling in kelvin a second, 0 for none.
func (r *round) reach(target unit.Celsius, ramp unit.KelvinPerSecond) unit.Duty {
	l := &r.s.Law
	if l.Way == NoHeat || l.Target != target {
		r.begin(target)
	}
	switch l.Way {
	case Full:
		return r.full(ramp)
	case Coast:
		return r.coast()
	case Holding:
		return r.hold()
	case NoHeat:
	}
	return 0
}

// begin takes a new target. From rest the mean starts at the reading; in the
// middle of a heat-up the balance already knows better than the reading.
func (r *round) begin(target unit.Celsius) {
	l := &r.s.Law
	even := l.Way == NoHeat || l.Way == Holding
	if off := l.Mean.Minus(r.e.Value); even && (!l.Landed || off > mostLanding || off < -mostLanding) {
		l.Mean = r.e.Value
	}
	l.Landed = false
	r.weighPour()
	l.Target, l.Shorts, l.Told, l.Water, l.Awaited = target, 0, false, 0, 0
	l.from(l.Mean)
	if target.Minus(l.Mean) > smallGap {
		l.enter(Full)
		return
	}
	if l.Way != Holding {
		l.PID.Integral = l.Spare
		l.enter(Coast)
	}
}

// from begins a heat-up at a temperature.
func (l *Law) from(at unit.Celsius) {
	l.Mean, l.Origin, l.Course, l.Raw, l.Proven, l.Marked = at, at, at, Rise{}, Rise{}, false
	l.Before.Filled = 0
}

// land takes the mean over the mash-in: the strike water's miss is shared with
// the grain. For the first minutes the bed's inside and outside differ, and
// this tells more than a reading of one of them.
func (r *round) land(before unit.JoulesPerKelvin) {
	l := &r.s.Law
	strike, mash := r.s.Steps[0].Target, r.s.Steps[1].Target
	share := float64(before / r.s.Load)
	landed := mash + unit.Celsius(share)*(l.Mean-strike)
	l.Landed = true
	l.Poured = Poured{Gain: l.gain(), Strike: l.Mean, Mean: landed}
	l.Mean, l.Before.Filled = landed, 0
	l.Gain = r.blend(l.Poured.Gain, usualVolume)
}

// full heats until the heat balance says that what is in the kettle, once it
// has evened out, is at the target.
func (r *round) full(ramp unit.KelvinPerSecond) unit.Duty {
	l := &r.s.Law
	if r.awaits() {
		return unit.Duty(r.holding(l.Target) + l.Spare).Clamp()
	}
	r.learnSlope()
	if l.Mean >= l.Target.Plus(-r.aim()) || r.e.Value > l.Target.Plus(min(max(usualLead, l.Lead+moreLead), mostLead)) {
		r.learnLag()
		l.enter(Coast)
		return r.coast()
	}
	if ramp <= 0 {
		return r.sparing(1)
	}
	l.Course = min(l.Target, l.Course+unit.Celsius(float64(ramp)*r.dt.Seconds()))
	load := float64(r.s.Load) / l.gain()
	climb := float64(ramp) * load / float64(r.c.Power)
	if l.Course >= l.Target {
		climb = 0
	}
	// Half a minute to close a gap: the balance has no lag to fear.
	closing := float64(l.Course-l.Mean) / 30 * load / float64(r.c.Power)
	return r.sparing(unit.Duty(r.holding(l.Mean) + l.Spare + climb + closing).Clamp())
}

// aim is how far below the target a heat-up ends by the balance.
func (r *round) aim() unit.Kelvin {
	l := &r.s.Law
	switch {
	case l.Shorts > 0:
		return aimAgain
	case r.s.GrainIn && !r.s.Lifted && !l.Told && l.Target.Minus(l.Origin) >= learnRise:
		return mashAim
	}
	return aimBelow
}

// sparing keeps the wort at the element from getting hotter than the rig's ceiling
// above the target; without one, from getting so hot that its reading would end
// the heat-up before the mash is there. In a heat-up that wort leads the mean, the
// further the more power; the lead that is left before the ceiling says how much
// power is. Only a probe in that wort can see it.
func (r *round) sparing(duty unit.Duty) unit.Duty {
	l := &r.s.Law
	ceiling, asked := r.c.HotSide, r.c.HotSide > 0
	if r.c.Place != Outlet || !r.s.GrainIn || !asked && r.s.Lifted {
		return duty
	}
	if !asked {
		ceiling = mostLead - leadMargin
	}
	lead := r.e.Value.Minus(l.Mean)
	if l.InWay >= leadAfter && duty > 0 && l.Lead == 0 {
		l.Lead = max(lead, leastLead)
	}
	left := l.Target.Plus(ceiling - leadMargin).Minus(l.Mean)
	least := unit.Duty(r.holding(l.Target) + l.Spare + leastClimb).Clamp()
	switch {
	case l.Lead == 0 && asked && r.e.Value > l.Target.Plus(-leadMargin):
		return min(duty, least) // too short a heat-up to know its lead
	case l.Lead == 0:
		return duty
	}
	return min(duty, max(least, unit.Duty(float64(left/l.Lead)).Clamp()))
}

// coast holds until the reading has stopped moving, then judges the heat-up.
func (r *round) coast() unit.Duty {
	l := &r.s.Law
	duty := unit.Duty(r.holding(l.Target) + l.Spare).Clamp()
	switch {
	case l.Mean > l.Target.Plus(smallGap):
		duty = 0
	case r.e.Value > l.Target && l.InWay > evenAfter && l.Spare == 0:
		duty *= coastShare
	}
	spread, known := r.s.Filter.Spread(settleSpan)
	settled := known && spread <= r.settleBand() && l.InWay >= settleSpan || r.fellShort() || r.seesSettled()
	switch {
	case settled:
		r.judge(true)
	case r.fallsAway():
		r.judge(false)
	case l.InWay >= coastMost:
		if duty > 0 {
			r.learnDrift()
		}
		r.judge(true)
	}
	return duty
}

// seesSettled tells that the model, in sight of the mean, says the same as the heat
// balance. Where they differ one of them is wrong, and what is heated too much stays:
// the reading decides, which takes longer.
func (r *round) seesSettled() bool {
	l, o := &r.s.Law, &r.s.Sight
	off := l.Mean.Minus(o.Mean)
	return o.Trusted && l.InWay >= sightCoast && off <= sightAgrees && off >= -sightAgrees
}

// settleBand is what a settled reading keeps within.
func (r *round) settleBand() unit.Kelvin {
	if r.c.Relay == modulate.Mechanical {
		return pulseBand
	}
	return settleBand
}

// fellShort tells, sooner than settling does, that a heat-up ended too far
// below its target: a flat minute there is enough to go on heating.
func (r *round) fellShort() bool {
	l := &r.s.Law
	spread, known := r.s.Filter.Spread(time.Minute)
	return known && spread <= flatBand && l.InWay >= flatAfter && r.e.Value < l.Target.Plus(-EntryBand)
}

// fallsAway tells that what coasts does not come to its target but leaves it: heat is
// missing, and waiting until it stands would cost kelvins.
func (r *round) fallsAway() bool {
	l := &r.s.Law
	slope, known := r.s.Filter.SlopeOver(settleSpan)
	return known && slope < 0 && l.InWay >= settleSpan && r.e.Value < l.Target.Plus(-awayBand)
}

// judge decides, when a coast is over, whether a second, small push is needed, and
// learns from the heat-up where the reading it ends at can teach: what falls away from
// its target may be water that somebody tells of in a while.
func (r *round) judge(teaches bool) {
	l := &r.s.Law
	now := r.e.Value
	if r.s.Sight.Trusted {
		now = r.s.Sight.Mean
	}
	// After a few short ones in a row the loop, which learns, takes over.
	short := l.Target.Minus(now) > smallGap && l.Shorts < mostShorts
	if short && r.inShadow(now) {
		// Such a reading says that heat is missing, and no more: the heat-up goes on. Where
		// it says so again, minutes later, it is half believed.
		l.Mean = max(l.Mean, now)
		if l.Shorts > 0 {
			l.Mean += (now - l.Mean) / 2
		}
	} else {
		r.conclude(now, teaches)
	}
	if short {
		l.Shorts++
		l.enter(Full)
		return
	}
	l.enter(Holding)
}

// conclude ends a heat-up at what has come of it. Where it teaches nothing, what was
// before is kept for a word that comes late.
func (r *round) conclude(now unit.Celsius, teaches bool) {
	l := &r.s.Law
	if teaches && l.Raw.by(l.gain()) >= learnRise && !l.Told {
		gain := l.Raw.gain(now.Minus(l.Origin))
		if math.Abs(gain/l.gain()-1) <= oddRatio {
			r.learn(l.gain() + 0.8*(gain-l.gain()))
		}
	}
	kept := l.Before.Filled
	l.from(now)
	if !teaches {
		l.Before.Filled = kept
	}
	l.PID.Integral, l.Told, l.Water = l.Spare, false, 0
}

// inShadow tells that a reading which has hardly settled may be below the mean only by
// its place: for minutes after full power it is colder outside the bed than within.
func (r *round) inShadow(now unit.Celsius) bool {
	outside := r.c.Place != Bed && r.s.GrainIn && !r.s.Lifted && !r.s.Sight.Trusted
	return outside && r.s.Law.Mean.Minus(now) <= bedShadow
}
