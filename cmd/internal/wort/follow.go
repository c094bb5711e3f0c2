// Package wort follows extract and water of a batch, by the frames of a loop or the
// ticks of its record: what a person read, what that makes of the gravity at the end
// of the boil, what the boil takes, and what meets the gravity that was planned. It
// is beside the loop, decides nothing, and keeps nothing in the core's state.
package wort

import (
	"time"

	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/record"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/gravity"
	"mashward/profile/heat"
)

// Follower follows one batch. New makes one; a nil one follows nothing. It is a
// loop.Watcher.
type Follower struct {
	c       *controller.Config
	brew    gravity.Brew // as planned, with the grain as it was told
	target  unit.SpecificGravity
	known   bool // there is a plan of gravity: the malt is known, and it is lifted out
	hasBoil bool

	now    time.Duration
	place  Place
	lifted bool
	lidOff bool
	mean   float64      // share of full power of late
	warm   unit.Celsius // reading of late

	// Water or wort in the kettle, cold, by all that was told, less what has boiled off.
	volume    unit.Litres
	volumeBy  Source
	statement uint32
	net       unit.Litres   // told of since the lift: put in less taken out
	off       unit.Litres   // boiled off since the lift, by the balance
	inBoil    unit.Litres   // of it in the boil itself
	boiled    time.Duration // of boil that was seen
	length    time.Duration // of the boil, as it was extended
	earned    time.Duration

	points   float64 // points times litres of what is in the kettle
	strength Place   // where the gravity was read that they come from; Nowhere: it is the plan's
	readOff  unit.Litres

	readings []Reading
	compared Compared

	volumes, strengths mark
	ratio              float64 // boiled off over what the balance has; 0: not learned
	ratioBy            Source
}

// mark is what stood when a first volume was stated, or a first gravity read.
type mark struct {
	begun  bool
	volume unit.Litres
	points float64
	off    unit.Litres
	net    unit.Litres
	boiled time.Duration
}

// Place is how far the wort has come.
type Place uint8

// The places.
const (
	Nowhere Place = iota
	Mash          // in the mash
	Kettle        // after the lift, before the boil
	Boil          // in the boil
	After         // after the boil
)

var placeNames = [...]string{"", "mash", "before-boil", "boil", "after-boil"}

// String is the place as a word of the interface.
func (p Place) String() string { return placeNames[p] }

// Source is where a figure comes from.
type Source uint8

// The sources, from the weakest on.
const (
	ByPlan    Source = iota
	ByBalance        // of energy: what went in, less the loss
	ByGravity        // two gravities, and the first volume
	ByVolume         // volumes that a person read
)

var sourceNames = [...]string{"plan", "balance", "gravities", "volumes"}

// String is the source as a word of the interface.
func (s Source) String() string { return sourceNames[s] }

// Reading is a gravity that a person read, corrected.
type Reading struct {
	At      time.Duration // since arming
	Place   Place
	Gravity unit.SpecificGravity
	Volume  unit.Litres // cold, in the kettle then
	By      Source      // of the volume
}

// Compared are thermometers that a person held beside the probe at rest.
type Compared struct {
	Count                int
	Sum, Lowest, Highest unit.Kelvin // above the probe
}

// mostReadings bounds what is kept.
const mostReadings = 64

// New follows a batch of a profile, with the configuration it runs with.
func New(p profile.Profile, c controller.Config) *Follower {
	f := &Follower{c: &c, brew: gravity.Brew{
		Water: p.Water, Grain: p.Grain.Mass, Trub: p.Trub,
		Malt: gravity.Malt{Moisture: p.Grain.Moisture, Extract: p.Grain.Extract, Conversion: p.Grain.Conversion},
	}}
	if p.Grain.Mass > 0 {
		f.brew.Retention = unit.LitresPerKilogram(float64(c.Water-c.AfterLift) / float64(p.Grain.Mass))
	}
	lifts := false
	for i := uint8(1); i < c.Count; i++ {
		lifts = lifts || c.Steps[i].Kind == profile.Lift
		if c.Steps[i].Kind == profile.Boil && !f.hasBoil {
			f.hasBoil, f.length = true, c.Steps[i].For
			f.brew.Boil = gravity.Boil{Rate: f.boilsOff(float64(c.Steps[i].Duty)), For: c.Steps[i].For}
		}
	}
	f.volume = c.Water
	if course, err := f.brew.Course(); err == nil && lifts {
		f.known, f.target = true, course.Original.Gravity
	}
	return f
}

// boilsOff is what a share of full power boils off, beside the declared loss and what
// the open surface gives to the air.
func (f *Follower) boilsOff(share float64) unit.LitresPerSecond {
	c := f.c
	power := unit.Watts(share*float64(c.Power)) - heat.OpenAir(c.Surface, c.Room, c.Boiling)
	return gravity.BoilRate(power, c.Loss, c.Room, c.Boiling)
}

// second is what one tick tells.
type second struct {
	now       time.Duration
	clock     time.Duration
	mode      controller.Mode
	index     uint8
	kind      profile.Kind
	stage     controller.Stage
	earned    time.Duration
	on        bool
	at        unit.Celsius
	read      bool
	volume    unit.Litres // stated after the lift
	statement uint32
	command   controller.Command
	events    []controller.Event
}

// Watch takes one frame. It waits for nobody.
func (f *Follower) Watch(fr *loop.Frame) {
	d := &fr.Decision
	f.second(&second{
		now: fr.Tick.Now, clock: d.Clock, mode: d.Mode, index: d.Index, kind: d.Kind, stage: d.Stage, earned: d.Earned,
		on: fr.Tick.Applied == unit.On, at: fr.Tick.Reading.Value, read: fr.Tick.Reading.Good(),
		volume: fr.Facts.Volume, statement: fr.Facts.Statement, command: fr.Tick.Command, events: d.Events[:d.Count],
	})
}

// Tick takes one tick of a record.
func (f *Follower) Tick(t *record.Tick) {
	f.second(&second{
		now: t.In.Now, clock: t.Clock, mode: t.Mode, index: t.Index, kind: t.Kind, stage: t.Stage, earned: t.Earned,
		on: t.In.Applied == unit.On, at: t.In.Reading.Value, read: t.In.Reading.Good(),
		volume: t.Facts.Volume, statement: t.Facts.Statement, command: t.In.Command, events: t.Events,
	})
}

// Block takes a block of a record.
func (f *Follower) Block(b *record.Block) {
	if b.Kind == record.KindTick {
		f.Tick(&b.Tick)
	}
}

// longest is the longest time between two ticks that is believed to have gone on as
// it was.
const longest = 10 * time.Second

func (f *Follower) second(s *second) {
	if f == nil {
		return
	}
	gap := s.now - f.now
	f.now = s.now
	if s.mode == controller.Idle || s.mode.Ended() && len(s.events) == 0 {
		return
	}
	f.along(s)
	if gap > 0 && gap <= longest {
		f.steam(gap, s)
	}
	for _, e := range s.events {
		f.hear(e, s)
	}
	if f.lifted && s.statement != f.statement {
		f.stated(s.volume, s.command.Wish == controller.Drained && s.command.Volume == 0)
	}
	f.statement = s.statement
}

// along sees how far the batch has come.
func (f *Follower) along(s *second) {
	switch s.kind {
	case profile.Strike:
		f.place = Nowhere
	case profile.MashIn, profile.Rest, profile.MashOut:
		f.place = Mash
		if s.stage == controller.Pour {
			f.place = Nowhere
		}
	case profile.Lift:
		if f.place == Nowhere {
			f.place = Mash
		}
	case profile.Boil:
		f.place, f.earned = Kettle, 0
		if s.stage == controller.Boil {
			f.place, f.earned = Boil, s.earned
		}
	case profile.Stand, profile.Chill:
		f.place = After
	}
	if f.lifted && f.place == Mash {
		f.place = Kettle
	}
}

// powerOver is the time over which the element's power counts as one: boiling wort
// that is not heated for so long boils no more.
const powerOver = 2 * time.Minute

// nearBoil is from where on wort gives off what it is not warmed by.
const nearBoil unit.Kelvin = 4

// steam takes off what goes as vapour: near the boil what was put in less the loss
// and less what warms the wort, and with the lid off never less than the open surface
// gives. Under a lid it runs back.
func (f *Follower) steam(gap time.Duration, s *second) {
	on := 0.0
	if s.on {
		on = 1
	}
	weight := min(1, gap.Seconds()/powerOver.Seconds())
	f.mean += (on - f.mean) * weight
	if !s.read {
		return
	}
	rise := float64(s.at-f.warm) / powerOver.Seconds() // K/s
	f.warm += (s.at - f.warm) * unit.Celsius(weight)
	if !f.lifted || f.place == After || !f.lidOff {
		return
	}
	rate := heat.EvaporationRate(heat.OpenLoss(f.c.Surface, f.c.Room, min(s.at, f.c.Boiling)), f.c.Boiling)
	switch boils := s.kind == profile.Boil && s.stage == controller.Boil && s.mode.Heats(); {
	case boils:
		rate = max(rate, f.boilsOff(f.mean))
		f.boiled += gap
		f.inBoil += unit.Litres(float64(rate) * gap.Seconds())
	case s.at >= f.c.Boiling.Plus(-nearBoil):
		warms := float64(f.c.Vessel+heat.WaterCapacity(f.volume)) * max(0, rise)
		rate = max(rate, f.boilsOff(f.mean-warms/float64(f.c.Power)))
	}
	gone := unit.Litres(float64(rate) * gap.Seconds())
	f.off += gone
	f.volume -= gone * unit.Litres(f.over())
	if f.volumeBy == ByVolume {
		f.volumeBy = ByBalance
	}
}

// over is how much more boils off than the balance has.
func (f *Follower) over() float64 {
	if f.ratio == 0 {
		return 1
	}
	return f.ratio
}
