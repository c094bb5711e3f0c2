package controller

import (
	"time"

	"mashward/controller/modulate"
	"mashward/controller/observer"
	"mashward/controller/unit"
	"mashward/profile"
)

// Place is where the probe sits.
type Place uint8

// The places a probe may sit in.
const (
	Outlet Place = iota // in the wort outside the bag
	Return              // in the pump's hose: blind while the pump is off
	Bed                 // in the grain
)

// Config is all that the core knows about kettle and day. It does not change
// during a batch; the steps, which a person may edit, are copied into State.
type Config struct {
	Power unit.Watts          // declared power of the element
	Loss  unit.WattsPerKelvin // declared loss to the room, lid on
	// Heat capacities of what stands in the kettle, vessel included.
	LoadWater unit.JoulesPerKelvin // water before the grain
	LoadMash  unit.JoulesPerKelvin // water and grain
	LoadWort  unit.JoulesPerKelvin // wort after lift, as planned
	Vessel    unit.JoulesPerKelvin // the empty kettle

	Relay   modulate.Kind
	HasPump bool
	InBoil  bool // the pump may run in the boil
	Place   Place

	HotSide unit.Kelvin  // ceiling for the wort at the element above the target; 0: none
	Boiling unit.Celsius // boiling point at the site
	Room    unit.Celsius
	Tap     unit.Celsius // the chiller's water

	Water     unit.Litres // cold, as filled
	CoveredAt unit.Litres // level at which the element is just covered
	ProbeAt   unit.Litres // level at which the probe is; 0: it is always covered
	Capacity  unit.Litres // to the brim; 0: not known, and nothing can be put in
	Displaced unit.Litres // room that the grain takes beside its water
	Surface   float64     // open surface, m²; 0: not known
	AfterLift unit.Litres // planned cold volume after lift
	// Grain is the profile's, which a person may correct before he pours; no mass:
	// nothing is known of it, and it cannot be.
	Grain      Malt
	Stirring   unit.Kelvin  // lost while the grain is stirred in
	StrikeMost unit.Celsius // the hottest strike that the limit set at arming leaves room for; 0: the planned one
	Settle     time.Duration

	// Model of the kettle by a water test; the zero value: none, the probe's lag is
	// learned on the strike heat-up.
	Model observer.Model
	// Longest is for how long one arming is good, where that is shorter than ArmedFor;
	// 0: it is not.
	Longest time.Duration
	Test    WaterTest // this batch is a water test

	Steps     [profile.MaxSteps + 1]Step          // index 0 is the strike, entry k of the profile is k
	Count     uint8                               // entries, index 0 included
	First     uint8                               // 0, or 1 where there is no mash-in and so no strike
	Additions [profile.MaxAdditions]time.Duration // time left at which each is due
	FromStart [profile.MaxAdditions]bool          // that one is due so long after its step's clock began
}

// ArmingLasts is for how long one arming is good.
func (c *Config) ArmingLasts() time.Duration {
	if c.Longest > 0 {
		return min(c.Longest, ArmedFor)
	}
	return ArmedFor
}

// Step is one step as the core runs it.
type Step struct {
	Kind     profile.Kind
	Target   unit.Celsius
	For      time.Duration
	Ramp     unit.KelvinPerSecond // ceiling; 0 = none
	Floor    unit.Kelvin          // the clock counts at or above target - Floor
	Duty     unit.Duty            // boil: the vigour, as planned
	Steam    unit.Watts           // boil: of it, what is to evaporate; 0: as planned, whatever the batch shows
	From, To uint8                // its additions: [From, To)
}

// Timed limits and margins. Each is the trade's or the house's, none is
// configurable.
const (
	// EntryBand: a rest's clock starts at target - 0.3 K.
	EntryBand unit.Kelvin = 0.3
	// HotBand: above target + 0.5 K the clock counts on, and it is said.
	HotBand unit.Kelvin = 0.5
	// ColdPatience: after standing still so long in one step, a person is asked.
	ColdPatience = 10 * time.Minute
	// MixTime lets the pump turn the wort over before the mash is judged.
	MixTime = 90 * time.Second
	// mostUnmixed is what a kettle takes to mix whose pump stood for long.
	mostUnmixed = 2 * MixTime
	// CountBack: the settling minutes count when the first mixed reading is
	// within this of the target.
	CountBack unit.Kelvin = 1
	// A fall within PourWindow means that grain went in without a press: a
	// quarter of what the plan expects of it, between these two. Strike water that
	// has just been heated falls by up to 0.33 K in a minute by itself (300 random
	// kettles), so that no smaller fall can mean grain.
	PourFall      unit.Kelvin = 0.5
	leastPourFall unit.Kelvin = 0.3
	PourWindow                = 60 * time.Second
	// GentleDuty and GentleBelow bound the heat while the bag drips.
	GentleDuty  unit.Duty    = 0.6
	GentleBelow unit.Kelvin  = 3  // under the boiling point
	GentleMost  unit.Celsius = 95 // and never above
	// HereValid is how long "I am here, lid off" stands.
	HereValid = 15 * time.Minute
	// ArmedFor is how long one arming by a person is good for.
	ArmedFor = 12 * time.Hour
	// PlateauBand: a plateau further below the boiling point is no boil.
	PlateauBand unit.Kelvin = 2.5
	// ScaldLoop: the pump runs in the last minutes of a boil.
	ScaldLoop = 10 * time.Minute
	// PumpWarning is how long the pump warns before it starts by itself.
	PumpWarning = 5 * time.Second
	// BedRest is the pause that lets a stuck bed loosen.
	BedRest = 3 * time.Minute
	// UndoWithin is how long a skip can be taken back.
	UndoWithin = 15 * time.Second
	// LevelMargin and LevelWarning stand above the covered level after lift.
	LevelMargin  unit.Litres = 1
	LevelWarning unit.Litres = 3
	// A stand or chill is there when the reading is: the wort away from the
	// chiller is warmer than where the probe hangs (0.2 K on the sample kettle),
	// and within EntryBand then.
	chillBand unit.Kelvin = 0
	// After the lift no more than this share of the water filled can be left,
	// a top-up included: 223 L for 22.3 L is a slip.
	mostLeft = 1.2
	// A pause by a person ends heat off: it is not a way round the waits.
	PauseAlarm = 30 * time.Minute
	PauseEnd   = 2 * time.Hour
	// TapMargin: a chiller gets no nearer to its water than about this.
	TapMargin unit.Kelvin = 2
	// A chill that has fallen by less than ColdSlope over five minutes is as cold as
	// it gets; further than ColdBand above its water something else is wrong.
	ColdBand  unit.Kelvin          = 4 * TapMargin
	ColdSlope unit.KelvinPerSecond = 0.05 / 60
	// coldAlarm is how long the water may run for nothing before somebody is called.
	coldAlarm = 30 * time.Minute
	// ScaldChiller: a chiller is hung in so long before the end of the boil.
	ScaldChiller = 10 * time.Minute
	// coldMetal is how long what is hung in cold may hold a boil back (common
	// practice, no source: two to four minutes).
	coldMetal = 5 * time.Minute
	// leastLate: a press so much behind its call is worth an offer of more time.
	leastLate = 30 * time.Second
	// GapLimit: a longer gap between ticks earns nothing.
	GapLimit = 3 * time.Second
)
