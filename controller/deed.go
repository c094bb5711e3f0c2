package controller

import (
	"time"

	"mashward/controller/observer"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/heat"
)

// Deeds is what a person has told of the kettle beside what the day asks of him.
//
// What he took out counts at once against the level that keeps the element
// covered. What he put in changes what is heated, not that level: a wrong word
// must not let the element run dry. Only a volume that he has read raises it.
type Deeds struct {
	Count     uint32      // of all that was told
	Statement uint32      // volumes read after the lift
	Added     unit.Litres // cold, net, beyond the plan or the volume read last
	Unread    unit.Litres // of it, what went in by word alone: no level
	Drawn     unit.Litres // cold, taken out since the volume after the lift was stated
	LidOff    bool
	Mixing    time.Duration // how much longer water that was told of mixes
	Grain     Regrain       // as weighed before it was poured
	Differs   time.Duration // how much longer another thermometer that differs is an alarm
}

// mixFor is how long water that went in takes to mix, and how late or early a
// person may tell of it (common practice, no source).
const mixFor = 3 * time.Minute

// deed takes what a person has done to the kettle. It was done whatever the
// batch waits for: also while it is held, so that a kettle can be topped up
// before it goes on.
func (r *round) deed(wish Wish) Refusal {
	s, c := r.s, &r.t.Command
	if !s.Mode.Heats() && s.Mode != Held {
		return WrongMode
	}
	why := NotRefused
	switch wish {
	case Added:
		why = r.putIn(c.Volume, c.At)
	case TookOut:
		why = r.takeOut(c.Volume)
	case VolumeIs:
		why = r.readVolume(c.Volume, c.At)
	case GrainIs:
		why = r.regrain(c.Grain, c.At)
	default:
		r.lid(wish == LidOff)
	}
	if why == NotRefused {
		s.Deeds.Count++
	}
	return why
}

// bed is the room that the grain takes now.
func (r *round) bed() unit.Litres {
	if r.s.GrainIn && !r.s.Lifted {
		return r.displaced()
	}
	return 0
}

// water is the cold volume of water or wort in the kettle, by all that was told.
func (r *round) water() unit.Litres {
	switch s := r.s; {
	case s.Volume > 0:
		return r.level() + s.Deeds.Added
	case s.Lifted:
		return r.afterLift() + s.Deeds.Added
	}
	return r.c.Water + r.s.Deeds.Added
}

// sure is the cold volume without what only a word has put in.
func (r *round) sure() unit.Litres {
	if r.s.Volume > 0 {
		return r.level()
	}
	return r.water() - r.s.Deeds.Unread
}

// cover is the level below which nothing is heated: element and probe covered,
// and a margin.
func (r *round) cover() unit.Litres { return max(r.c.CoveredAt, r.c.ProbeAt) + LevelMargin }

// waterLoad and mashLoad are the planned loads with what was told.
func (r *round) waterLoad() unit.JoulesPerKelvin {
	return r.c.LoadWater + heat.WaterCapacity(r.s.Deeds.Added)
}

func (r *round) mashLoad() unit.JoulesPerKelvin {
	return r.loadMash() + heat.WaterCapacity(r.s.Deeds.Added)
}

// putIn takes water or wort that went in: it mixes with what is there.
func (r *round) putIn(litres unit.Litres, at unit.Celsius) Refusal {
	s, l := r.s, &r.s.Law
	cold := heat.ColdFrom(litres, at)
	c := heat.WaterCapacity(cold)
	before, after := s.Load, s.Load+c
	mean := heat.Mixture(before, r.before(), c, at)
	switch {
	case !isWater(at):
		return NotWater
	case !(litres > 0):
		return NeedsFigure
	case s.Stage == Hoist:
		return WrongStage
	case !(heat.HotVolume(r.water()+cold, max(mean, at))+r.bed() <= r.c.Capacity):
		return Overfull
	}
	r.unlearn()
	r.pourSight(c, at, mean)
	s.Load, l.Mean, l.Before.Filled = after, mean, 0
	r.add(cold)
	s.Deeds.Unread += cold
	s.Deeds.Mixing = mixFor
	s.Filter = s.Filter.Restart()
	r.event(WaterAdded, float64(cold))
	r.event(MixForeseen, float64(mean))
	r.steer(cold)
	r.strikeTold()
	return NotRefused
}

// takeOut takes what went out, as warm as the kettle. So much that element or
// probe may be bare ends the heat now, more than there can be too, and is
// refused while it was on: a slip of the pen must not become the volume.
func (r *round) takeOut(litres unit.Litres) Refusal {
	s := r.s
	at := s.Law.Mean
	if r.e.Valid {
		at = r.e.Value
	}
	cold := heat.ColdFrom(litres, at)
	left, sure := r.water()-cold, r.sure()-cold
	switch {
	case !(litres > 0 && litres <= max(r.c.Capacity, r.mostIn())):
		return NeedsFigure
	case s.Stage == Hoist:
		return WrongStage
	case !(sure+r.bed() > r.cover()):
		s.Bare = true
		r.event(HeatBarred, float64(sure))
		if s.Mode.Heats() || !(left > 0) {
			return WouldBare
		}
	}
	s.Load -= heat.WaterCapacity(cold)
	s.Law.Water = max(0, s.Law.Water-cold) // a slip that is put right is not taken back once more
	r.modelLoad()
	if s.Volume > 0 {
		s.Deeds.Drawn += cold
	} else {
		r.add(-cold)
	}
	s.Filter = s.Filter.Restart()
	r.event(WaterTaken, float64(cold))
	r.strikeTold()
	return NotRefused
}

// readVolume takes a volume that was read from the kettle at a temperature. It
// takes the place of all that was stated and told before.
func (r *round) readVolume(litres unit.Litres, at unit.Celsius) Refusal {
	s := r.s
	cold := heat.ColdFrom(litres-r.bed(), at)
	switch {
	case !isWater(at):
		return NotWater
	case !(litres > 0) || !(cold > 0):
		return NeedsFigure
	case s.Stage == Pour, s.Stage == Hoist, s.Lifted && s.Volume == 0:
		return WrongStage // nobody can tell how much of the grain is in, or how much drips from it
	case !(litres <= r.c.Capacity) || !(cold <= r.mostIn()):
		return Overfull
	case !(cold+r.bed() > r.cover()):
		s.Bare = true
		r.event(HeatBarred, float64(cold))
		return WouldBare
	}
	before := s.Load
	if s.Volume > 0 {
		r.stateVolume(cold)
	} else {
		s.Load += heat.WaterCapacity(cold - r.water())
		r.add(cold - r.water())
		s.Deeds.Unread = 0
	}
	r.rescale(float64(s.Load / before))
	s.Bare, s.Doubted, s.Law.Water = false, false, 0
	r.event(VolumeRead, float64(cold))
	r.strikeTold()
	return NotRefused
}

// stateVolume makes a volume read after the lift the one that the level is
// counted from.
func (r *round) stateVolume(volume unit.Litres) {
	s := r.s
	s.Volume, s.Boiled, s.Bare = volume, 0, false
	s.Deeds.Added, s.Deeds.Unread, s.Deeds.Drawn, s.Law.Water = 0, 0, 0, 0
	s.Deeds.Statement++
	s.Load = r.wort(volume)
}

// add changes the net of what was told, and with it what the strike has to be.
func (r *round) add(cold unit.Litres) {
	s := r.s
	water, grain := float64(r.waterLoad()), float64(r.loadMash()-r.c.LoadWater)
	s.Deeds.Added += cold
	s.Law.Poured = Poured{} // what the pour was to teach is of another mash
	first, mash := &s.Steps[0], s.Steps[1].Target
	if s.GrainIn || r.c.First != 0 || first.Kind != profile.Strike || !(grain > 0) {
		return
	}
	// The grain takes as much heat as before, from another load of water. The
	// limit that was set at arming leaves room for no more than mostStrike.
	takes := water * float64(first.Target-mash)
	target := min(mash+unit.Celsius(takes/float64(r.waterLoad())), r.hottestWatered())
	if s.Law.Target == first.Target {
		s.Law.Target = target
	}
	first.Target = target
}

// mostStrike is how far strike water may be made hotter than planned.
const mostStrike unit.Kelvin = 3

// strikeTold heats strike water again that has been made too cold.
func (r *round) strikeTold() {
	s := r.s
	if s.Stage == Ready && r.step().Kind == profile.Strike && s.Law.Mean < r.step().Target.Plus(-EntryBand) {
		s.Reached, s.StoodStill = false, 0
		r.goTo(Heat)
	}
}

// lid changes what is lost from now on.
func (r *round) lid(off bool) {
	s := r.s
	if off != s.Deeds.LidOff {
		before := r.openLoss(s.Law.Mean)
		s.Deeds.LidOff, s.Law.Before.Filled = off, 0
		if o := &s.Sight; o.State.Begun {
			o.State = o.Filter.Pushed(o.State, unit.Watts(before-r.openLoss(s.Law.Mean)))
		}
	}
	value := 0.0
	if off {
		value = 1
	}
	r.event(LidMoved, value)
}

// openLoss is what the kettle loses more while its lid is off, W.
func (r *round) openLoss(at unit.Celsius) float64 {
	if !r.s.Deeds.LidOff {
		return 0
	}
	return float64(heat.OpenTop(r.c.Surface, r.c.Room, at))
}

// steer takes a mean that has changed at once to the law: a kettle that was
// held has a new way to go, and heats along it, with its eye on the heat balance
// and not on a reading that is still falling.
func (r *round) steer(cold unit.Litres) {
	l := &r.s.Law
	gap := l.Target.Minus(l.Mean)
	switch {
	case l.Way == NoHeat:
		return
	case l.Way == Full, gap > smallGap:
		if l.Way != Full {
			l.Water = 0
		}
		if gap >= mostAwaited {
			l.Awaited = l.Target.Plus(-gap / 4)
		}
		l.from(l.Mean)
		l.enter(Full)
		l.Shorts = 0
	case l.Way == Coast, gap < -smallGap:
		l.from(l.Mean)
		l.enter(Coast)
	}
	l.Told, l.Water = true, l.Water+cold
}

// mostAwaited is the fall from which on water that went in must show before it
// is heated: what was told too early, or by mistake, is no reason to heat a mash
// above its target.
const mostAwaited unit.Kelvin = 0.5

// awaits tells that water that was told of has not shown yet. When it has not by
// the time in which it mixes, the reading is believed, and the water is not counted; so it is when a heat-up goes
// on as if nothing had gone in, further above the balance than any probe leads.
func (r *round) awaits() bool {
	l, o := &r.s.Law, &r.s.Sight
	mixing := r.s.Deeds.Mixing > 0
	switch {
	case l.Awaited == 0 && (!l.Told || mixing || r.c.Place == Bed || r.e.Value <= l.Mean.Plus(mostLead)):
		return false
	case l.Awaited != 0 && r.e.Value <= l.Awaited:
		l.Awaited = 0
		return false
	case l.Awaited != 0 && mixing:
		return true
	}
	r.s.Load -= heat.WaterCapacity(l.Water)
	r.add(-l.Water)
	r.s.Deeds.Unread = max(0, r.s.Deeds.Unread-l.Water)
	r.modelLoad()
	r.event(WaterUncounted, float64(l.Water))
	l.Awaited, l.Water = 0, 0
	l.from(r.e.Value)
	o.State.Begun, o.Seen, o.Trusted = false, 0, false
	r.event(MixDoubted, float64(r.e.Value))
	return false
}

// rescale takes a load that was found to be another than believed. How fast the
// kettle heats has been seen, and has not changed: what was learned of it is
// kept, as power over load.
func (r *round) rescale(by float64) {
	l, o := &r.s.Law, &r.s.Sight
	if l.Gain != 0 {
		if l.Way == Full { // it was so from the beginning
			l.Mean = l.Origin.Plus(l.Raw.by(l.Gain))
		}
		l.Gain = min(max(l.Gain*by, leastGain), mostGain)
	}
	if l.Way == Full {
		l.from(l.Mean)
		l.InWay, l.Told = 0, true
	}
	if o.Fitted {
		r.refilter(o.Filter.Model.Scaled(by))
		o.State = o.State.Scaled(by)
	}
}

// modelLoad gives the model the load that stands in the kettle now.
func (r *round) modelLoad() {
	if o := &r.s.Sight; o.Fitted {
		r.refilter(o.Filter.Model.With(r.s.Load))
	}
}

// pourSight pours into the model what went in. mean is what comes of it.
func (r *round) pourSight(c unit.JoulesPerKelvin, at, mean unit.Celsius) {
	o := &r.s.Sight
	if !o.Fitted {
		return
	}
	old := o.Filter
	r.refilter(old.Model.With(r.s.Load + c))
	if !o.State.Begun || !o.Fitted {
		return
	}
	if base, extra, known := r.sightBefore(); known {
		o.State = old.Moved(o.State, base-o.Mean, extra)
	}
	o.State = old.Poured(o.State, c, at, &o.Filter)
	x := o.Filter.Now(o.State)
	o.Mean, o.Extra = o.Filter.Mean(&x), o.Filter.Extra(&x)
}

// refilter runs the sight on another model; one that cannot be run ends it.
func (r *round) refilter(m observer.Model) {
	o := &r.s.Sight
	f, ok := observer.New(m, observer.Steering())
	if !ok {
		*o = Sight{Held: o.Held}
		return
	}
	o.Filter = f
}

// isWater tells whether that can be the temperature of water. 0 is no answer.
func isWater(at unit.Celsius) bool { return at > 0 && at <= 100 }

// levelLow tells that the level comes near the element, or that what was told
// has ended the heat.
func (r *round) levelLow() bool {
	s := r.s
	switch {
	case s.Bare && s.Stage != Drain:
		return true
	case s.Volume > 0:
		return r.leastLevel() < r.c.CoveredAt+LevelWarning
	}
	return s.Deeds.Added < 0 && r.water()+r.bed() < r.c.CoveredAt+LevelWarning
}
