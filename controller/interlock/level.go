package interlock

import (
	"math"
	"time"

	"mashward/controller/unit"
)

const (
	// Latent heat of water at 100 °C, IAPWS R7-97: 2256.47 kJ/kg. It is
	// larger at lower boiling points (2273.5 at 80 kPa), so that the estimate
	// errs towards an emptier kettle.
	latent = 2256.47e3 // J/kg
	// Density of water at 20 °C, IAPWS R7-97.
	density = 0.9982 // kg/L

	// From this far below the boiling point on, power counts as steam. It
	// covers a probe that reads low at the boil; the price is the climb over
	// these 5 K, counted once as some 0.2 L that did not boil off.
	nearBoil unit.Kelvin = 5

	// Loss is set against power over this time: longer than one window of any
	// relay, short enough that a pause earns nothing.
	debtFor = 60 // s
)

// boiledOff goes on with the estimate of what is left after the lift. What the
// element gives beyond the loss through the wall becomes steam once the kettle
// is near the boil:
//
//	steam = integral of (power - loss x T/Tboil) / latent heat
//
// A missing reading counts as the boil without loss. What evaporates from the
// surface further below the boil is not counted (up to about 0.5 L/h with the
// lid off, common practice, no source); LevelMargin has to carry it.
func (l Limits) boiledOff(g Guard, f Facts, dt time.Duration) Guard {
	if f.Stage == Mash {
		g.Declared, g.Statement, g.BoiledOff, g.Drawn, g.Debt = 0, 0, 0, 0, 0
		return g
	}
	stated := usable(f.Volume)
	if stated != 0 && (stated != g.Declared || f.Statement != g.Statement) {
		g.Declared, g.Statement, g.BoiledOff, g.Drawn, g.Debt = stated, f.Statement, 0, 0, 0
	}
	g.Drawn = drawn(g.Drawn, f.Drawn)
	share := 0.0
	if g.fresh() {
		if g.Last.Value < l.Boiling-unit.Celsius(nearBoil) {
			return g
		}
		share = atMost(float64(g.Last.Value/l.Boiling), 1)
	}
	if g.Declared == 0 {
		return g
	}
	loss := float64(l.LossAtBoil) * share
	surplus := -atMost(-float64(g.Debt), loss*debtFor) - loss*dt.Seconds()
	if f.Applied != unit.Off {
		surplus += float64(l.ElementPower) * dt.Seconds()
	}
	if surplus > 0 {
		g.BoiledOff += unit.Litres(surplus / latent / density)
	}
	g.Debt = unit.Joules(max(min(surplus, 0), -loss*debtFor))
	return g
}

// atMost holds v between 0 and limit; what is not a number becomes 0.
func atMost(v, limit float64) float64 {
	if !(v > 0) {
		return 0
	}
	return min(v, limit)
}

// drawn is what has been taken out by now: never less than before, and all of
// it where what is said is no volume.
func drawn(before, said unit.Litres) unit.Litres {
	if !(said >= 0 && said < anyKettle) || !(before >= 0) {
		return anyKettle
	}
	return max(before, said)
}

// usable is the stated volume, 0 for none, -1 for one that is no volume: such
// a statement must not pass for "not yet stated".
func usable(v unit.Litres) unit.Litres {
	if math.IsNaN(float64(v)) || v < 0 || v > anyKettle {
		return -1
	}
	return v
}
