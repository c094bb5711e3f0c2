package pid

import (
	"math"
	"time"
)

// SIMC are the PI gains for a process that integrates: at full duty it rises by
// rate kelvin a second, lag later. tc is the closed loop's time, longer is
// gentler; tc = lag is the source's advice. A rate that is not above 0, or
// times that do not add up to more than 0, give no gain.
//
//	Kc = 1/(rate·(tc+lag)), Ti = 4·(tc+lag)
//
// Skogestad, J. Process Control 13 (2003) 291.
func SIMC(rate float64, lag, tc time.Duration) Gains {
	around := tc + lag
	if !(rate > 0) || math.IsInf(rate, 0) || around <= 0 {
		return Gains{Weight: 1}
	}
	return Gains{Proportional: 1 / (rate * around.Seconds()), Integral: 4 * around, Weight: 1}
}

// SIMCSettling are the PI gains for a process that settles: at full duty it
// ends gain kelvin higher, with the time constant settles, lag later. One that
// settles slowly is as good as integrating; one that settles fast needs no
// longer integral time than its own.
//
//	Kc = settles/(gain·(tc+lag)), Ti = min(settles, 4·(tc+lag))
//
// Skogestad, J. Process Control 13 (2003) 291.
func SIMCSettling(gain float64, settles, lag, tc time.Duration) Gains {
	g := SIMC(gain/settles.Seconds(), lag, tc)
	g.Integral = min(g.Integral, settles)
	return g
}
