package interlock

import (
	"math"
	"time"

	"mashward/controller/unit"
)

// The compiled limits. Limits may be tighter, never looser.
const (
	// Fresh is the age up to which a reading permits heat.
	Fresh = 5 * time.Second
	// LateAfter is the longest gap between two Steps; it is the lease of the
	// line, after which the element is off whatever was decided.
	LateAfter = 3 * time.Second
	// QuietFor is how long a cause must be gone before a cut returns the heat.
	QuietFor = 10 * time.Second
	// TripAfter is how long a cut for the probe may last before it latches.
	TripAfter = 60 * time.Second
	// LongestOn is the longest uninterrupted heating under any plan.
	LongestOn = 4 * time.Hour
	// LongestArmed is how long one arming by a person is good for.
	LongestArmed = 12 * time.Hour
	// HighestLimit is the over-temperature limit that nothing may exceed.
	HighestLimit unit.Celsius = 105
	// AboveBoiling is how far above the boiling point a limit may stand.
	AboveBoiling unit.Kelvin = 4
	// LevelMargin is the volume above the covered level at which heat ends.
	LevelMargin unit.Litres = 1
)

const (
	// Readings outside this range are not those of wort in an open kettle.
	coldest unit.Celsius = -5
	hottest unit.Celsius = 110

	// nothing is a limit below which no plausible reading lies.
	nothing = coldest

	// The highest air pressure ever recorded, 1085 hPa, boils water at 102 °C
	// (IAPWS R7-97 saturation line; the record is from memory).
	highestBoiling unit.Celsius = 102

	// Stand-ins for figures that are missing, on the safe side: a covered
	// level above any kettle and a power above any element this is meant for
	// (10 to 100 L, 1 to 6 kW).
	anyKettle  unit.Litres = 1000
	anyElement unit.Watts  = 30000
)

// Limits are handed over when a person arms the batch. Every field is held to
// the compiled limits by Tighten, which Step applies itself: a field that is
// missing or not a number permits less, never more.
type Limits struct {
	MashCeiling  unit.Celsius  // limit up to the first lift press: highest strike or mash target + 5 K
	BoilCeiling  unit.Celsius  // limit from that press on: boiling point + 4 K, 105 °C at most
	Rig          unit.Celsius  // limit of the rig file; 0 = none; in force is the lower one
	Boiling      unit.Celsius  // boiling point at the site
	CoveredAt    unit.Litres   // cold volume at which the element is just covered
	ElementPower unit.Watts    // what the element draws when on
	LossAtBoil   unit.Watts    // lost through the wall at the boil, evaporation not included
	OnLimit      time.Duration // longest uninterrupted heating the plan can need
	ArmedFor     time.Duration // how long this arming is good for
}

// Tighten is l with every field inside the compiled limits.
func (l Limits) Tighten() Limits {
	if !(l.Boiling > 0) {
		l.Boiling, l.MashCeiling, l.BoilCeiling = nothing, 0, 0
	}
	l.Boiling = min(l.Boiling, highestBoiling)
	highest := min(l.Boiling.Plus(AboveBoiling), HighestLimit)
	l.MashCeiling = ceiling(l.MashCeiling, highest)
	l.BoilCeiling = ceiling(l.BoilCeiling, highest)
	if l.Rig != 0 {
		l.Rig = ceiling(l.Rig, HighestLimit)
	}
	if !(l.CoveredAt > 0 && l.CoveredAt < anyKettle) {
		l.CoveredAt = anyKettle
	}
	if !(l.ElementPower > 0 && l.ElementPower < anyElement) {
		l.ElementPower = anyElement
	}
	if !(l.LossAtBoil > 0) {
		l.LossAtBoil = 0
	}
	// A loss that eats most of the power would say that nothing boils away.
	l.LossAtBoil = min(l.LossAtBoil, l.ElementPower/2)
	l.OnLimit = min(max(l.OnLimit, 0), LongestOn)
	l.ArmedFor = min(max(l.ArmedFor, 0), LongestArmed)
	return l
}

// ceiling holds a limit at or below the highest; what is no limit permits
// nothing.
func ceiling(limit, highest unit.Celsius) unit.Celsius {
	if !(limit > 0) {
		return nothing
	}
	return min(limit, highest)
}

// InForce is the over-temperature limit that holds at that stage. Before
// arming there is no plan: the compiled limit and the rig's stand, so that hot
// water left in an idle kettle is no trip.
func (l Limits) InForce(armed bool, s Stage) unit.Celsius {
	return l.Tighten().inForce(armed, s)
}

func (l Limits) inForce(armed bool, s Stage) unit.Celsius {
	limit := HighestLimit
	if armed {
		switch s {
		case Mash:
			limit = l.MashCeiling
		case Lifted:
			limit = l.BoilCeiling
		default:
			limit = min(l.MashCeiling, l.BoilCeiling)
		}
	}
	if l.Rig != 0 {
		limit = min(limit, l.Rig)
	}
	return limit
}

// plausible tells whether the value can be that of a kettle at all.
func plausible(c unit.Celsius) bool {
	return !math.IsNaN(float64(c)) && c >= coldest && c <= hottest
}
