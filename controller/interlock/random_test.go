package interlock

import (
	"math"
	"math/rand/v2"
	"time"

	"mashward/controller/unit"
	"mashward/sensors"
)

func newRandom(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 7)) }

// day yields an endless brew day gone wrong. It is biased to the ready state
// (armed, heats, wanted, good reading) and, when it disturbs, to the limits
// plus or minus one step of the probe, because a generator that draws evenly is
// almost never on and shows nothing.
type day struct {
	r *rand.Rand
	l Limits
	g Guard
	f Facts

	trouble func(*day) // what is wrong now
	left    int        // ticks for which it lasts
}

func newDay(r *rand.Rand) *day {
	d := &day{r: r, l: sampleLimits()}
	d.l.OnLimit = 10 * time.Minute
	return d
}

// next draws the next facts.
func (d *day) next() {
	applied := unit.Off
	if d.g.Started { // what the guard would have let through
		applied = d.g.verdict(d.f.Wanted).Permitted
	}
	f := &d.f
	f.Now += time.Second
	f.Reading = sensors.Reading{Value: d.near(), Taken: f.Now, Fault: sensors.None}
	f.Wanted, f.Applied, f.Armed, f.Heats = unit.RelayOf(d.r.IntN(12) != 0), applied, true, true
	f.EmptySwitch, f.Finding, f.Clear = Unknown, NoRule, d.r.IntN(15) == 0
	if d.left == 0 {
		d.trouble, d.left = nil, 20+d.r.IntN(60)
		if d.r.IntN(3) != 0 {
			d.trouble = troubles[d.r.IntN(len(troubles))]
			d.left = 1 + d.r.IntN(12)
			if d.r.IntN(6) == 0 {
				d.left = 70 // long enough to latch
			}
		}
	}
	d.left--
	if d.trouble != nil {
		d.trouble(d)
	}
}

// near is a healthy temperature, a little below the limit in force.
func (d *day) near() unit.Celsius {
	return d.l.InForce(true, d.f.Stage) - lsb - unit.Celsius(d.r.IntN(20))*lsb
}

var troubles = []func(*day){
	func(d *day) { d.f.Reading.Fault = sensors.Fault(d.r.IntN(8)) },
	func(d *day) { d.f.Reading.Value = d.l.InForce(true, d.f.Stage) + unit.Celsius(d.r.IntN(3)-1)*lsb },
	func(d *day) { d.f.Reading.Taken -= Fresh + time.Duration(d.r.IntN(3)-1) },
	func(d *day) { d.f.Reading.Taken += time.Duration(d.r.IntN(3)) },
	func(d *day) {
		odd := []float64{coldestNext, -5, 110, 110.0625, math.NaN(), math.Inf(1), -127, 85, 4095.9}
		d.f.Reading.Value = unit.Celsius(odd[d.r.IntN(len(odd))])
	},
	func(d *day) { d.f.Armed = d.r.IntN(4) == 0 },
	func(d *day) { d.f.Heats = false },
	func(d *day) { d.f.EmptySwitch = Switch(d.r.IntN(4)) },
	func(d *day) { d.f.Finding = Rule(d.r.IntN(20)) },
	func(d *day) { d.f.Now += LateAfter - time.Second + time.Duration(d.r.IntN(3)-1) },
	func(d *day) { d.f.Now -= time.Second + time.Duration(d.r.IntN(2)) },
	func(d *day) { d.f.Applied = unit.On },
	func(d *day) { d.f.Wanted = unit.Relay(d.r.IntN(4)) },
	func(d *day) { d.f.Stage = Stage(d.r.IntN(3)); d.left = 0 },
	func(d *day) { d.f.Stage, d.f.Volume = Lifted, 13+unit.Litres(d.r.Float64()*0.01); d.left = 0 },
	func(d *day) { d.f.Stage, d.f.Volume = Lifted, 14+unit.Litres(d.r.IntN(9)); d.left = 0 },
	func(d *day) { d.f.Drawn += unit.Litres(d.r.Float64()); d.left = 0 },
	func(d *day) { d.f.Stage, d.f.Volume = Mash, 0; d.left = 0 },
	func(d *day) { d.l.OnLimit = time.Duration(d.r.IntN(120)) * time.Second; d.left = 0 },
	func(d *day) { d.l.OnLimit = 10 * time.Minute; d.left = 0 },
	func(d *day) { d.l.ArmedFor = time.Duration(1+d.r.IntN(12)) * time.Hour; d.left = 0 },
}

const coldestNext = -5.0625
