package rehearse

import (
	"cmp"
	"math/rand/v2"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/loop"
	"mashward/sim/fault"
)

// boilFaults are the kettles that faults in the boil are judged on. The limits of
// controller/verify's boil.go were chosen on those from 4,100,000 on.
const boilFaults = 142_000_000

// inBoil is the first minutes of a boil, before a cold chiller hangs in it.
func inBoil(i *instant) bool {
	return i.stage == controller.Boil && i.into > time.Minute && i.into < 5*time.Minute && i.state.ColdMetal == 0
}

// TestFaultsInTheBoilAreFoundWhereTheyCanBeSeen: a dead element by the fall of the
// boil; a welded relay not before the heat is told off, and then by a kettle that
// stays at the boil although nothing is switched on, unless the chiller takes it
// down first. One dead element in ten is missed: those of kettles too weak to boil
// with the lid off, which fall and rise below the boil by themselves.
func TestFaultsInTheBoilAreFoundWhereTheyCanBeSeen(t *testing.T) {
	n := 12
	if *night {
		n = 300
	}
	n = cmp.Or(*campaignDays, n)
	var dead, welded, weldedIn tally
	spreadOver(n, func(i uint64) {
		for _, tuned := range []bool{false, true} {
			seed := cmp.Or(*campaignFrom, boilFaults) + i
			c, err := set(seed, tuned, true)
			if err != nil {
				continue
			}
			if err := c.live(c.kettle, nil, true); err != nil {
				t.Error(err)
			}
			if len(c.trips) > 0 {
				t.Errorf("kettle %d, tuned %v: a healthy day trips %v", seed, tuned, c.when)
			}
			r := rand.New(rand.NewPCG(seed, 11))
			at := c.pick(r, inBoil)
			if at == nil {
				continue // too weak to boil
			}
			one := func(into *tally, f fault.Kind, late, horizon time.Duration, counts func(*loop.Frame) bool) {
				o := c.from(at, fault.Fault{Kind: f})
				o.loop.Watchers[0].(*Person).Delay = late
				e := o.follow(horizon, counts)
				e.place, e.tuned, e.seed = c.kettle.Plant.Probe.Place, tuned, seed
				into.add(e)
			}
			one(&dead, fault.RelayOpen, time.Hour, 6*time.Minute, nil)
			one(&weldedIn, fault.RelayWelded, time.Hour, 5*time.Minute, nil)
			one(&welded, fault.RelayWelded, time.Hour, 8*time.Minute, func(f *loop.Frame) bool { return f.Decision.Stage == controller.Connect })
		}
	})
	for _, row := range []struct {
		name   string
		of     *tally
		limit  float64
		missed float64 // share at most
	}{
		{"dead element in the boil", &dead, 300, 0.15},
		{"relay welded in the boil, from flame-out on", &welded, 300, 0.01},
	} {
		text, missed, late := row.of.text(row.limit)
		t.Logf("%s: %s", row.name, text)
		if all := float64(len(row.of.ends)); all < float64(n)/2 || float64(missed) > row.missed*all || late > 0 {
			t.Errorf("%s: %d of %.0f missed, %d late", row.name, missed, all, late)
		}
	}
	text, _, _ := weldedIn.text(300)
	t.Logf("relay welded in the boil, within 5 min of it: %s", text)
}

// TestAWeakKettleThatSinksWithItsLidOffIsNoDeadElement: with 15 % less power than
// declared this one does not boil once its lid is off, and sinks, evenly.
func TestAWeakKettleThatSinksWithItsLidOffIsNoDeadElement(t *testing.T) {
	c, err := set(231_000_531, false, true)
	if err != nil {
		t.Fatal(err)
	}
	k := c.kettle
	k.Plant.Element.Power *= 0.85
	if err := c.live(k, nil, false); err != nil {
		t.Fatal(err)
	}
	if len(c.trips) == 0 || c.trips[0] != "on-too-long" {
		t.Errorf("tripped %v; want only that it heats for too long", c.when)
	}
}
