package invariant

import (
	"math"
	"strings"
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/sensors"
)

// sampleDay is a kettle at 340 m with 78 °C as its highest target; the relay wears,
// the pump must not run in the boil.
func sampleDay() Day {
	return Day{
		Hottest: 78, Boiling: 98.9, CoveredAt: 12, Power: 3000, LossAtBoil: 560, LongestOn: time.Hour, ArmedFor: mostArmed,
		HasPump: true, Mechanical: true,
	}
}

// course is a stream of facts.
type course struct {
	t     *testing.T
	c     Checker
	f     Fact
	found []Breach
}

// steady is a course in the middle of a heat-up in which nothing is wrong: half an
// hour of heat and pump.
func steady(t *testing.T) *course {
	x := &course{t: t, c: Checker{Day: sampleDay()}}
	x.f = Fact{Steered: true, Guarded: true, Sure: true, Scene: Warm}
	x.pass(2)
	x.f.Mode, x.f.Armed, x.f.Wish, x.f.Accepted, x.f.Announced = Running, true, Start, true, true
	x.pass(1)
	x.f.Wish, x.f.Announced, x.f.Contactor = Nothing, false, unit.On
	x.pass(10)
	x.f.Pump, x.f.Duty, x.f.Wanted, x.f.On, x.f.Lease = unit.On, 1, unit.On, unit.On, lease
	x.pass(1200)
	if len(x.found) > 0 {
		t.Fatal(x.found)
	}
	return x
}

// pass lets seconds pass.
func (x *course) pass(seconds int) *course {
	for range seconds {
		x.after(time.Second)
	}
	return x
}

func (x *course) after(d time.Duration) {
	x.f.Now += d
	x.f.Reading = sensors.Reading{Value: 60, Taken: x.f.Now, Fault: sensors.None}
	x.judge()
}

// judge checks the fact as it stands; the line does in the next second what it is
// told.
func (x *course) judge() {
	x.found = append(x.found, x.c.Check(x.f)...)
	x.f.Applied = x.f.On
}

// off takes heat away as it should be.
func (x *course) off() *course {
	x.f.Wanted, x.f.On, x.f.Duty = unit.Off, unit.Off, 0
	return x
}

// with changes the facts and lets a second pass.
func (x *course) with(change func(*Fact)) *course {
	change(&x.f)
	return x.pass(1)
}

// reads lets a second pass with this reading.
func (x *course) reads(v unit.Celsius) {
	x.f.Now += time.Second
	x.f.Reading = sensors.Reading{Value: v, Taken: x.f.Now, Fault: sensors.None}
	x.judge()
}

// breaks does to a steady course what one law forbids.
var breaks = map[string][]func(*course){
	"start": {func(x *course) { x.c = x.c.Restarted(); x.pass(1) }},
	"fresh reading": {
		func(x *course) { // each tick brings the same reading again
			x.f.Now += oldest + 1
			x.judge()
		},
		func(x *course) { x.c = Checker{Day: sampleDay()}; x.f.Reading.Fault = sensors.Open; x.judge() },
	},
	"mode": {func(x *course) { x.with(func(f *Fact) { f.Mode = Held }) }, func(x *course) { x.off().with(func(f *Fact) { f.Mode = Idle }) }},
	"ways": {
		func(x *course) {
			x.off().with(func(f *Fact) { f.Mode, f.Pump = Held, 0 }).with(func(f *Fact) { f.Mode = Running })
		},
		func(x *course) { // by itself, after the lift
			x.off().with(func(f *Fact) { f.Lifted = true })
			x.c = x.c.Restarted()
			x.with(func(f *Fact) { f.Mode, f.Armed, f.Pump = Offered, false, 0 })
			x.with(func(f *Fact) { f.Mode, f.Armed, f.Wish, f.Accepted = Running, true, Alone, true })
		},
	},
	"pause": {func(x *course) { x.off().with(func(f *Fact) { f.Mode = Paused }).pass(2 * 3600) }},
	"stop":  {func(x *course) { x.with(func(f *Fact) { f.Wish = Stop }) }},
	"scene": {func(x *course) { x.with(func(f *Fact) { f.Scene = Turning }) }, func(x *course) { x.with(func(f *Fact) { f.Asked = true }) }, func(x *course) { x.with(func(f *Fact) { f.Bare = true }) }},
	"gentle": {
		func(x *course) { x.with(func(f *Fact) { f.Scene, f.Duty, f.Target = Dripping, 0.7, 90 }) },
		func(x *course) { x.with(func(f *Fact) { f.Scene, f.Duty, f.Target = Dripping, 0.5, 95.95 }) },
		func(x *course) { x.with(func(f *Fact) { f.Duty = unit.Duty(math.NaN()) }) },
	},
	"gap":            {func(x *course) { x.after(lease + 1) }},
	"held by a trip": {func(x *course) { x.with(func(f *Fact) { f.Told = true }) }},
	"arming": {
		func(x *course) { x.with(func(f *Fact) { f.Armed = false }) },
		func(x *course) { x.c.armedFor = mostArmed - 2*time.Second; x.pass(2) },
	},
	"pump": {
		func(x *course) { x.with(func(f *Fact) { f.Scene = Hands }) },
		func(x *course) { x.with(func(f *Fact) { f.Scene = Steaming }) },
		func(x *course) { x.with(func(f *Fact) { f.Blocked = true }) },
		func(x *course) { x.c.Day.HasPump = false; x.pass(1) },
	},
	"pump warning": {
		func(x *course) { x.with(func(f *Fact) { f.Pump = unit.Off }).with(func(f *Fact) { f.Pump = unit.On }) },
		func(x *course) {
			x.with(func(f *Fact) { f.Pump, f.Announced = unit.Off, true }).with(func(f *Fact) { f.Announced = false }).pass(2)
			x.with(func(f *Fact) { f.Pump = unit.On })
		},
		func(x *course) { x.off(); x.after(4 * time.Second) },
	},
	"hose": {func(x *course) { x.c.Day.Hose = true; x.with(func(f *Fact) { f.Pump = unit.Off }) }},
	"wear": {
		func(x *course) { x.off().pass(3).with(func(f *Fact) { f.Wanted, f.On, f.Duty = unit.On, unit.On, 1 }) },
		func(x *course) {
			x.off().pass(5).with(func(f *Fact) { f.Wanted, f.On, f.Duty = unit.On, unit.On, 1 }).pass(1)
			x.with(func(f *Fact) { f.Wanted, f.On, f.Duty = unit.Off, unit.Off, 0.3 })
		},
		func(x *course) { // every 18 s
			for range 181 {
				x.off().pass(9).with(func(f *Fact) { f.Wanted, f.On, f.Duty = unit.On, unit.On, 1 }).pass(8)
			}
		},
	},
	"only takes away": {
		func(x *course) { x.with(func(f *Fact) { f.Wanted = unit.Off }) },
		func(x *course) { x.with(func(f *Fact) { f.Cut = "stale" }) },
		func(x *course) { x.with(func(f *Fact) { f.On = unit.Off }) },
		func(x *course) { // the contactor closes under current
			x.off().with(func(f *Fact) { f.Contactor = unit.Off })
			x.with(func(f *Fact) { f.Wanted, f.On, f.Duty, f.Contactor = unit.On, unit.On, 1, unit.On })
		},
	},
	"lease": {func(x *course) { x.with(func(f *Fact) { f.Lease = lease + 1 }) }, func(x *course) { x.with(func(f *Fact) { f.Lease = 0 }) }},
	"obeyed": {func(x *course) {
		x.off().pass(2)
		x.f.Applied = unit.On
		x.pass(1)
	}},
	"limit": {func(x *course) { x.reads(83) }, func(x *course) { x.c.Day.Rig = 60; x.pass(1) }, func(x *course) { x.reads(110) }},
	"too hot latches": {
		func(x *course) {
			x.off()
			for _, v := range []unit.Celsius{67, 71, 75, 79, 82, 83, 83.5, 84} {
				x.reads(v)
			}
		},
		func(x *course) { // a jump that stays
			x.off()
			for range 5 {
				x.reads(95)
			}
		},
	},
	"too long": {func(x *course) { x.pass(2402) }},
	"level": {
		func(x *course) { x.with(func(f *Fact) { f.Lifted, f.Volume = true, 12.9 }) },
		func(x *course) { x.with(func(f *Fact) { f.Lifted, f.Volume, f.Drawn = true, 20, 7.1 }) },
		func(x *course) { // 3000 W less 560 W for 10 min take 0.65 L
			x.off().with(func(f *Fact) { f.Lifted, f.Volume, f.Pump, f.Scene = true, 13.5, 0, Steaming })
			x.f.Wanted, x.f.On, x.f.Duty = unit.On, unit.On, 1
			for range 600 {
				x.reads(98)
			}
		},
	},
	"latch": {
		func(x *course) { x.off().with(func(f *Fact) { f.Trip = "empty" }).with(func(f *Fact) { f.Trip = "" }) },
		func(x *course) {
			x.off().with(func(f *Fact) { f.Trip, f.Mode, f.Pump = "empty", Held, 0 })
			x.c = x.c.Restarted()
			x.with(func(f *Fact) { f.Trip = "" })
		},
	},
	"finding": {
		func(x *course) { x.with(func(f *Fact) { f.Finding = "too-fast" }) },
		func(x *course) { x.off().with(func(f *Fact) { f.Finding, f.Cut = "too-fast", "stale" }) },
		func(x *course) { x.off().with(func(f *Fact) { f.Finding = probeOut }) },
	},
	"quiet": {func(x *course) {
		x.off().with(func(f *Fact) { f.Dry, f.Cut = true, "empty" }).with(func(f *Fact) { f.Dry = false }).pass(7)
		x.with(func(f *Fact) { f.Cut, f.Wanted, f.On, f.Duty = "", unit.On, unit.On, 1 })
	}},
	"lasting silence latches": {func(x *course) {
		x.off()
		x.f.Cut = "stale"
		for range 70 {
			x.f.Now += time.Second
			x.judge()
		}
	}},
	"comes back": {func(x *course) {
		x.off().with(func(f *Fact) { f.Dry, f.Cut = true, "empty" }).with(func(f *Fact) { f.Dry = false }).pass(15)
	}},
	"contactor": {func(x *course) { x.off().with(func(f *Fact) { f.Mode, f.Pump = Held, 0 }) }},
	"time":      {func(x *course) { x.judge() }},
}

func TestEachLawCanBeBroken(t *testing.T) {
	named := map[string]bool{"time": true}
	for _, l := range laws {
		named[l.name] = true
	}
	for name := range named {
		if len(breaks[name]) == 0 {
			t.Errorf("nothing here breaks %q", name)
		}
		for i, do := range breaks[name] {
			x := steady(t)
			do(x)
			said := false
			for _, b := range x.found {
				said = said || b.Law == name && strings.Contains(b.String(), name+": ")
			}
			if !said {
				t.Errorf("%s, %d: not said: %v", name, i, x.found)
			}
		}
	}
}

// TestAQuietDayBreaksNoLaw goes through what is allowed and looks like a breach.
func TestAQuietDayBreaksNoLaw(t *testing.T) {
	x := steady(t)
	x.off().pass(5)                                                          // 4 s at least
	x.with(func(f *Fact) { f.Wanted, f.On, f.Duty = unit.On, unit.On, 1 })   // on again
	x.off().with(func(f *Fact) { f.Mode, f.Pump, f.Contactor = Held, 0, 0 }) // stopped after a second
	x.with(func(f *Fact) { f.Trip = "too-fast" }).with(func(f *Fact) { f.Clear, f.Trip = true, "" })
	x.with(func(f *Fact) { f.Clear, f.Wish, f.Accepted, f.Mode = false, End, true, Stopped })
	x.reads(82.9) // no trip below the limit
	if len(x.found) > 0 {
		t.Error(x.found)
	}
}

func TestHeatThatIsNeverOnShowsNothing(t *testing.T) {
	var full Tally
	full.Facts, full.On = 1000, 50
	for m := range full.Modes {
		full.Modes[m] = 100
	}
	if why := full.Vacuous(100); why != "" {
		t.Error(why)
	}
	little, seldom := full, full
	little.On, seldom.Modes[Aborted] = 49, 99
	if little.Vacuous(100) == "" || seldom.Vacuous(100) == "" || (Tally{}).Vacuous(0) == "" {
		t.Error("what shows nothing passes")
	}
}
