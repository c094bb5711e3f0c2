package controller

import (
	"time"

	"mashward/controller/unit"
	"mashward/profile/gravity"
)

// Spot is where in the mash a sample was taken. The bed is not the same
// everywhere: acid and salts reach its middle last.
type Spot uint8

// The spots. The zero value: he did not say.
const (
	NoSpot      Spot = iota
	SpotMiddle       // of the bed
	SpotTop          // the wort above the bed
	SpotOutlet       // at the tap or in the pump's hose
	SpotStirred      // all of it has been stirred
)

var spotNames = [...]string{"", "middle", "top", "outlet", "stirred"}

// String is the spot in one word.
func (s Spot) String() string { return named(spotNames[:], int(s)) }

// SpotOf is the spot with that word; false where there is none.
func SpotOf(name string) (Spot, bool) {
	for i, n := range spotNames {
		if n == name {
			return Spot(i), true
		}
	}
	return NoSpot, false
}

const (
	// ProbeDoubt is the difference from which on one of two thermometers is wrong:
	// a DS18B20 is good to 0.5 °C by its data sheet, a kitchen thermometer to 1 °C
	// (common practice, no source).
	ProbeDoubt unit.Kelvin = 2
	// probeDoubted is for how long it is an alarm: it stands in the record for good.
	probeDoubted = 30 * time.Minute
	// No meter in wort shows a pH outside these.
	leastPH, mostPH = 3, 9
	// Floats are made for 15.56 °C (60 °F) or 20 °C, in the tropics for up to 27.5 °C
	// (common practice, no source).
	coldestScale unit.Celsius = 10
	hottestScale unit.Celsius = 30
)

// note takes what a person has read. It changes nothing that heats or protects:
// the probe's reading stays what it is, and so does every limit.
func (r *round) note(wish Wish) Refusal {
	s, c := r.s, &r.t.Command
	if !s.Mode.Heats() && s.Mode != Held {
		return WrongMode
	}
	why := NotRefused
	switch wish {
	case ThermometerSays:
		why = r.compare(c.At)
	case PHIs:
		if !(c.Value >= leastPH && c.Value <= mostPH) || !isWater(c.At) || c.Spot > SpotStirred {
			return NotPH
		}
		r.event(PHRead, c.Value)
	default:
		why = r.gravity()
	}
	if why == NotRefused {
		s.Deeds.Count++
	}
	return why
}

// compare sets another thermometer beside the probe. Only where the kettle is at
// rest and even do the two have to say the same.
func (r *round) compare(at unit.Celsius) Refusal {
	if !isWater(at) {
		return NotWater
	}
	r.event(ThermometerRead, float64(at))
	even := r.s.Law.Way == Holding && r.s.Deeds.Mixing == 0 || r.s.Stage == Boil && r.s.ColdMetal == 0
	if !even || !r.e.Valid || r.blind() {
		r.event(ProbeUncompared, 0)
		return NotRefused
	}
	off := at.Minus(r.e.Value)
	r.s.Deeds.Differs = 0
	if off >= ProbeDoubt || off <= -ProbeDoubt {
		r.s.Deeds.Differs = probeDoubted
	}
	r.event(ProbeDiffers, float64(off))
	return NotRefused
}

// gravity takes the reading of an instrument, corrected to 20 °C.
func (r *round) gravity() Refusal {
	c := &r.t.Command
	reading := gravity.Reading{Kind: c.Instrument, Value: c.Value, Temperature: c.At, Calibrated: c.Calibrated}
	if c.Calibrated != 0 && !(c.Calibrated >= coldestScale && c.Calibrated <= hottestScale) {
		return SampleWarm
	}
	if coldest, hottest := c.Instrument.Range(); !(c.At >= coldest && c.At <= hottest) {
		return SampleWarm
	}
	g, err := reading.Gravity()
	if err != nil {
		return NotWort
	}
	r.event(GravityRead, float64(g))
	return NotRefused
}

// pumpStands takes that the pump has stopped though it was told to run. It is off
// now, and what has come apart meanwhile has to mix before a reading speaks for the
// kettle.
func (r *round) pumpStands() Refusal {
	switch {
	case !r.s.Mode.Heats() && r.s.Mode != Held:
		return WrongMode
	case !r.c.HasPump:
		return NoPump
	}
	r.s.PumpBlocked, r.s.Unmixed = true, mostUnmixed
	r.s.Deeds.Count++
	return NotRefused
}
