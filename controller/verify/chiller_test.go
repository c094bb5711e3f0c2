package verify

import (
	"testing"
	"time"

	"mashward/controller/unit"
)

// cooled is a kettle behind its boil, the lid off: a chiller takes 300 W/K out of the
// wort around it, and the rest evens out with that in half a minute.
type cooled struct {
	*boiler
	inner float64
}

func (c *cooled) pass(seconds, tenths int) *cooled {
	const around = 0.35 * mashLoad
	const inner = mashLoad - around
	const evens = around / 30 // W/K
	for i := range seconds {
		on := unit.RelayOf(i%10 < tenths)
		into := 3000*c.real(on) - 7*(c.at-18) - c.surface - evens*(c.at-c.inner)
		if c.tick.Chiller {
			into -= 300 * (c.at - 12)
		}
		c.at += into / around
		c.inner += evens * (c.at - c.inner) / inner
		c.read += (c.at - c.read) / 12
		c.step(on, c.read+0.04*c.noise.NormFloat64())
	}
	return c
}

// chills cools a kettle that boiled until it reads so much.
func chills(to float64) *cooled {
	c := &cooled{boiler: boils().pass(900, 7)}
	c.inner, c.tick.Chiller = c.at, true
	for c.read > to {
		c.pass(1, 0)
	}
	c.tick.Chiller = false
	return c
}

// When the chiller's water is closed, the wort around it, the probe's, meets the rest,
// which is many degrees warmer. That is no heat, and no kettle that is nearly empty.
func TestWortThatMeetsTheRestBehindTheChillerIsNoHeat(t *testing.T) {
	for _, to := range []float64{93, 85, 75, 40, 25} {
		c := chills(to)
		since, low := c.now, c.read
		c.pass(120, 0)
		rise := c.read - low
		if c.pass(1200, 1); c.found.Kind != Nothing {
			t.Errorf("to %.0f °C: found %v %v after it was closed (expected %.1f, measured %.1f); the reading rose by %.1f K", to, c.found.Kind, c.rig.at-since, c.found.Expected, c.found.Measured, rise)
		}
		if 50 < to && to < 90 && rise < 2 {
			t.Errorf("to %.0f °C: the reading rose by %.1f K only; that shows nothing", to, rise)
		}
	}
}

func TestARelayThatWeldedIsFoundBehindTheChiller(t *testing.T) {
	c := chills(80)
	since := c.now
	c.real = func(unit.Relay) float64 { return 1 }
	c.pass(600, 0)
	c.want(t, HeatingWhileOff, sceneBlank+90*time.Second, since)
}
