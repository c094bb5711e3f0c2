package plan

import (
	"fmt"
	"math"
	"time"

	"mashward/controller/unit"
	"mashward/profile"
)

// Water that is heated by hand, or to clean.
const (
	// LongestByHand is when it is off by itself at the latest.
	LongestByHand = 4 * time.Hour
	// ByHandBelow is how far under the boiling point its over-temperature limit stays:
	// nobody boils by hand.
	ByHandBelow unit.Kelvin = 3
	// byHandAbove is how far that limit stands above its highest target.
	byHandAbove unit.Kelvin = 5
)

// checkByHand refuses what nobody may do by hand.
func (d *day) checkByHand() {
	if !d.profile.ByHand() {
		return
	}
	highest := d.plan.Boiling.Plus(-ByHandBelow - byHandAbove)
	for i, s := range d.profile.Steps {
		if s.Target > highest {
			d.refuse(i+1, fmt.Sprintf("water by hand at %.1f °C is too near to the boil, which is at %.1f °C here", s.Target, d.plan.Boiling),
				fmt.Sprintf("choose %.0f °C at most", math.Floor(float64(highest))))
		}
	}
	if heats := d.heatsUntil(); heats > LongestByHand {
		d.refuse(len(d.profile.Steps), fmt.Sprintf("water by hand would be heated and kept for %s, and it is off by itself after %s", spell(heats), spell(LongestByHand)),
			"keep it for a shorter time, or take less water")
	}
}

// heatsUntil is when heat is needed for the last time: a chill takes as long as it likes.
func (d *day) heatsUntil() time.Duration {
	last := time.Duration(0)
	for _, s := range d.plan.Steps {
		if s.Kind != profile.Chill {
			last = max(last, s.End)
		}
	}
	return last
}

// cleaning are the cautions where a cleaner is in the water (common practice, no
// source; what stands on its packet counts before them).
func cleaning() []string {
	return []string{
		"Cleaner in the water: no grain, no wort. Caustic burns skin and eyes, and more so when hot: goggles and gloves. " +
			"Stir cleaner into cold water, never water onto cleaner; never mix it with acid or with anything that holds chlorine; no caustic in aluminium. " +
			"What stands on its packet counts.",
		"Rinse kettle, pump and hoses with water until nothing is slippery, before anything to drink goes in.",
	}
}
