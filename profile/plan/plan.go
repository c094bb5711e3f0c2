// Package plan works out a brew day before anything is filled: the strike
// temperature and what makes it, every heat-up and rest on one clock, the
// volumes at each stage, when a person is needed, and what this kettle cannot
// do, with what to do instead.
//
// The clock counts from arming. Hands take no time in it: a prompt is answered
// at once, except that the grain takes Pour to go in. Volumes are cold litres
// (20 °C) unless they are called hot.
package plan

import (
	"time"

	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/heat"
)

// Pour is the time the grain takes to go in, heat and pump off (common
// practice, no source: some 2 kg a minute, stirred).
const Pour = 2 * time.Minute

// RelayKind is what switches the element.
type RelayKind uint8

// The kinds of relays.
const (
	SolidState RelayKind = iota
	Mechanical
)

// Place is where the probe sits.
type Place uint8

// The places of a probe: in the wort outside the bag, in the pump's hose on
// its way back, or in the grain.
const (
	Outlet Place = iota
	Return
	Bed
)

// Kettle is what a plan needs to know of the rig and its site.
type Kettle struct {
	Capacity         unit.Litres // brim-full
	Diameter         unit.Metres // 0: no depths are given
	ElementCoveredAt unit.Litres
	Vessel           unit.JoulesPerKelvin
	Loss             unit.WattsPerKelvin
	Power            unit.Watts // effective: declared, or found by a water test
	Rated            unit.Watts // as on its plate, for the current; 0: as Power
	Relay            RelayKind
	Pump             bool
	InBoil           bool // the pump may run in the boil
	Probe            Place
	ProbeCoveredAt   unit.Litres // unused with Return
	Voltage          unit.Volts  // 0: the supply is not checked
	Fuse             unit.Amperes
	Altitude         unit.Metres
	Room             unit.Celsius
	Tap              unit.Celsius
	Retention        unit.LitresPerKilogram // water in minus wort out
	Stirring         unit.Kelvin
	OverTemperature  unit.Celsius // 0: not set
	HotSide          unit.Kelvin  // ceiling at the element above the target; 0: none
}

// Problem is something a brewer must know before he begins. Refused means
// that this day cannot be run on this kettle; otherwise it is said, and he may
// go on. Step is the profile entry (0: the strike or the whole day) and Line
// where it stands in the profile (0: it is not about the file).
type Problem struct {
	What    string
	Remedy  string
	Refused bool
	Step    int
	Line    int
}

// Step is one entry of the plan. All instants count from arming.
type Step struct {
	Index     int // entry in the profile; 0 is the strike
	Kind      profile.Kind
	Name      string
	Target    unit.Celsius // boil: the boiling point
	HasTarget bool         // false for lift
	From      unit.Celsius // at Start
	Ends      unit.Celsius // at End; the target, unless that is out of a chiller's reach
	Start     time.Duration
	Reached   time.Duration // heated or cooled to the target
	End       time.Duration
	Gentle    time.Duration        // the last part of a boil's heat-up, at reduced power
	Hold      time.Duration        // at the target
	Ramp      unit.KelvinPerSecond // ceiling of the heat-up; 0: none
	Rate      unit.KelvinPerSecond
	Duty      unit.Duty // share of full power while holding
	Energy    unit.Joules
	Additions []profile.Addition
}

// Heat is how long the step takes to come to its target.
func (s Step) Heat() time.Duration { return s.Reached - s.Start }

// Person is a moment at which somebody is needed.
type Person struct {
	At   time.Duration
	Step int
	// Of tells the moments of a step apart: fill, pour, lift, break, chiller, loop,
	// chill, tap, end, and addition-2 for what goes in with the second addition of the step.
	Of   string
	What string // a full sentence

	addition bool
}

// Passes tells that nothing waits for it: an addition passes by default.
func (p Person) Passes() bool { return p.addition }

// Boil is what the boil evaporates and what it takes.
type Boil struct {
	Rate      unit.LitresPerSecond // cold litres
	Chosen    bool                 // the profile names it; else the default vigour
	Share     unit.Ratio           // of the volume before the boil, an hour
	Before    unit.Litres
	After     unit.Litres
	Steam     unit.Watts // what the rate takes, beside what is lost
	FullPower bool       // goes through the break at full power, for want of a stronger element
}

// Supply is the current against the fuse. Fuse 0: not known.
type Supply struct {
	Current unit.Amperes
	Fuse    unit.Amperes
	Share   unit.Ratio // current over fuse
}

// Plan is a brew day worked out. Problems holds the same as Make returns, so
// that text and JSON can show it.
type Plan struct {
	Profile   string
	Water     unit.Litres
	Grain     profile.Grain
	Use       profile.Use
	Kettle    Kettle
	Boiling   unit.Celsius
	HasStrike bool
	Strike    heat.StrikeTerms
	Steps     []Step
	Volumes   []Volume
	Boils     []Boil
	Trub      unit.Ratio
	Wort      Wort
	Dipstick  Dipstick
	Supply    Supply
	Persons   []Person
	Finish    time.Duration
	Energy    unit.Joules
	Problems  []Problem
	Cautions  []string
}

// Refused tells whether one of the problems forbids the day.
func Refused(problems []Problem) bool {
	for _, p := range problems {
		if p.Refused {
			return true
		}
	}
	return false
}

// Make works out the day. Where a target cannot be reached the steps end
// there, since nothing honest can be said of the ones behind it; volumes,
// supply and levels are judged all the same.
func Make(p profile.Profile, k Kettle) (Plan, []Problem) {
	d := newDay(p, k)
	d.checkFigures()
	if !Refused(d.plan.Problems) {
		d.walk()
		d.fillVolumes()
		d.layDipstick()
		d.followExtract()
		d.checkLevels()
		d.checkRoom()
		d.callPersons()
	}
	d.checkTimes()
	d.checkByHand()
	d.checkSupply()
	d.checkProbe()
	d.checkLimit()
	d.checkExpect()
	d.plan.Cautions = Cautions(d.plan.Kettle.Relay)
	if d.profile.Use == profile.Cleaning {
		d.plan.Cautions = append(cleaning(), d.plan.Cautions...)
	}
	return d.plan, d.plan.Problems
}
