package daemon

import (
	"fmt"
	"time"

	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/wall"
	"mashward/controller"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/heat"
	"mashward/profile/plan"
)

// Later is when a batch that was armed for later begins by itself, as it was worked
// out at arming. Nothing in it changes afterwards.
type Later struct {
	Armed  time.Time     // by the wall clock, as the rest of the times
	Ready  time.Time     // the strike water is to be hot
	Heats  time.Time     // it begins to heat by itself
	Latest time.Time     // the last moment of a start from which it can still be hot in time
	Needs  time.Duration // what the heat-up takes, and the water to stand still
	Margin time.Duration // by which it begins earlier than that
	// ByClock: a time of day was chosen, so that the wall clock has to be right; else
	// it was said how long, and the wall clock is not asked.
	ByClock bool

	stamp wall.Stamp    // of the arming
	due   time.Duration // run clock at which it heats
	last  time.Duration // run clock of Latest
}

const (
	// mostAhead is how long what was stated at the kettle is good for: as long as any
	// arming.
	mostAhead = controller.ArmedFor
	// A loop whose last tick is older does not run.
	freshTick = 5 * time.Second
)

// chosen tells whether heat is to begin later than now.
func (s Statements) chosen() bool { return !s.ReadyAt.IsZero() || s.ReadyIn != 0 }

// schedule works back from when the water is to be hot.
func (d *Daemon) schedule(b *Batch, s Statements) (*Later, error) {
	last, now := d.Latest(), d.o.Now()
	if why := d.unfitForLater(b, last, now, s); why != "" {
		return nil, &Unstated{why}
	}
	result, _ := d.Rehearsed(b.Hash)
	needs := needsToHeat(b, last.Decision.Filtered, result)
	l := &Later{
		Needs: needs, Margin: plan.Margin(needs), ByClock: s.ReadyIn == 0,
		Armed: now.Round(0), Ready: now.Round(0).Add(s.ReadyIn), stamp: wall.StampAt(last.Now, last.Wall), // of one tick
	}
	if l.ByClock {
		l.Ready = s.ReadyAt.Round(0).In(now.Location())
	}
	return l, l.workBack()
}

// unfitForLater is why no later start can be armed, before any time is looked at; "" if
// it can.
func (d *Daemon) unfitForLater(b *Batch, last *Snapshot, now time.Time, s Statements) string {
	switch {
	case !s.ReadyAt.IsZero() && s.ReadyIn != 0:
		return "say by when the water is to be hot, or in how long: not both"
	case !b.Plan.HasStrike:
		return "this profile has no mash-in, and so nothing that waits for a person before it goes on: it cannot be armed for later"
	case !d.atThePaceOfTheClock():
		return "the simulated kettle does not go at the pace of the clock: start mashward with --speed 1"
	case now.Sub(last.Wall) > freshTick:
		return "the loop does not tick: look at the state"
	case !last.Decision.HasEstimate:
		return "the probe gives no good reading: see to it before you leave the kettle"
	}
	if s.ReadyIn == 0 {
		if doubt := d.boot().Doubt(now); doubt != "" {
			return doubt + ": say in how long the water is to be hot, not by what time"
		}
	}
	return ""
}

// workBack finds when to begin, or says why that cannot be.
func (l *Later) workBack() error {
	left := l.Ready.Sub(l.Armed)
	spare := left - l.Needs
	delay := max(0, spare-l.Margin)
	switch {
	case spare < 0:
		return &Unstated{fmt.Sprintf("heating takes %s: the water can be hot at %s at the earliest, %s late. Start it now without a time, or choose a later one",
			say.Length(l.Needs), l.Armed.Add(l.Needs).Format("15:04"), say.Length(-spare))}
	case delay > mostAhead:
		return &Unstated{fmt.Sprintf("it would begin to heat %s from now, and what is stated at the kettle is good for %s: arm it later",
			say.Length(delay), say.Length(mostAhead))}
	}
	l.Heats, l.Latest = l.Armed.Add(delay), l.Armed.Add(spare)
	l.due, l.last = l.stamp.Run+delay, l.stamp.Run+spare
	return nil
}

// needsToHeat is how long the water takes until it can be said to be ready: as it is
// worked out from the colder of what it is now and what comes from the tap, or as the
// rehearsal went, whatever is longer.
func needsToHeat(b *Batch, now unit.Celsius, went rehearse.Result) time.Duration {
	k := &b.Plan.Kettle
	from := k.Tap
	if b.Say.Config.Place != controller.Return { // which shows a hose that stands
		from = min(from, now)
	}
	load := heat.Mash{Water: b.Profile.Water, Vessel: k.Vessel}.Capacity()
	needs, err := heat.HeatUp(load, k.Loss, k.Power, min(k.Room, from), from, b.Plan.Strike.Temperature)
	if err != nil { // out of reach: the plan refuses that already
		needs = b.Plan.Finish
	}
	for _, s := range went.Steps {
		if s.Kind == profile.Strike.String() {
			needs = max(needs, time.Duration(s.End*float64(time.Second)))
		}
	}
	return needs.Round(time.Second)
}

// note is the choice as a sentence for the record.
func (l *Later) note() string {
	how := "in " + say.Length(l.Ready.Sub(l.Armed))
	if l.ByClock {
		how = "by " + l.Ready.Format("15:04")
	}
	return fmt.Sprintf("armed at %s for strike water hot %s: to heat by itself at %s, %s of margin in it, what was stated good for %s",
		l.Armed.Format("2006-01-02 15:04"), how, l.Heats.Format("15:04"), say.Length(l.Margin), say.Length(mostAhead))
}
