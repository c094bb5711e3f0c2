package loop

import (
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/invariant"
	"mashward/controller/modulate"
	"mashward/profile"
)

// Fact is the frame as those see it who hold it to what must always be so. What
// the line did may be a guess: whoever knows says so himself.
func (f *Frame) Fact() invariant.Fact {
	x := FactOf(&f.Tick, f.State, &f.Decision)
	x.Armed, x.Lifted = f.Facts.Armed, f.Facts.Stage != interlock.Mash
	x.Volume, x.Statement, x.Drawn = f.Facts.Volume, f.Facts.Statement, f.Facts.Drawn
	x.Dry = f.Facts.EmptySwitch > interlock.Filled
	x.Guarded, x.Finding, x.Cut, x.Trip = true, f.Finding.Kind.String(), ruleName(f.Verdict.Cut), ruleName(f.Verdict.Trip)
	x.On, x.Lease = f.Permitted, Lease
	return x
}

// FactOf is a tick of the core alone: On is what it wishes.
func FactOf(t *controller.Tick, s *controller.State, d *controller.Decision) invariant.Fact {
	x := invariant.Fact{
		Now: t.Now, Reading: t.Reading, Applied: t.Applied,
		Steered: true, Mode: invariant.Mode(d.Mode), Scene: sceneOf(d.Stage, d.Kind), Wanted: d.Wanted, Duty: d.Duty, Target: d.Target,
		Pump: d.Pump, Asked: s.AskedGrain, Blocked: s.PumpBlocked, Resting: s.BedRest > 0, Bare: s.Bare,
		Armed: d.Armed, Lifted: d.Lifted, Volume: d.Volume, Drawn: d.Drawn,
		Wish: wishOf(t.Command.Wish), Clear: t.Command.Wish == controller.ClearTrip,
		Told: t.Trip != controller.NoReason, On: d.Wanted,
	}
	for _, e := range d.Events[:d.Count] {
		x.Announced = x.Announced || e.Kind == controller.PumpStarts
		x.Accepted = x.Accepted || e.Kind == controller.Accepted
	}
	return x
}

// DayOf is what was stated at arming. The highest target is that of the steps, not
// the limit that was made of it.
func DayOf(c *controller.Config, l *interlock.Limits) invariant.Day {
	d := invariant.Day{
		Boiling: c.Boiling, Rig: l.Rig, CoveredAt: c.CoveredAt, Power: l.ElementPower, LossAtBoil: l.LossAtBoil,
		LongestOn: l.OnLimit, ArmedFor: l.ArmedFor, HasPump: c.HasPump, InBoil: c.InBoil,
		Hose: c.Place == controller.Return, Mechanical: c.Relay == modulate.Mechanical,
	}
	lifts, boils := false, false
	for i := int(c.First); i < int(c.Count); i++ {
		switch s := c.Steps[i]; s.Kind {
		case profile.Strike, profile.MashIn, profile.Rest, profile.MashOut:
			d.Hottest = max(d.Hottest, s.Target)
		case profile.Lift:
			lifts = true
		case profile.Boil:
			boils = true
		case profile.Stand, profile.Chill:
		}
	}
	d.Unlifted = boils && !lifts
	if c.Test.Rise > 0 { // a water test: its limit hangs on where it began
		d.Hottest = l.MashCeiling.Plus(-5)
	}
	return d
}

func ruleName(r interlock.Rule) string {
	if r == interlock.NoRule {
		return ""
	}
	return r.String()
}

// sceneOf is what goes on in the kettle.
func sceneOf(s controller.Stage, k profile.Kind) invariant.Scene {
	switch s {
	case controller.Count:
		if k == profile.Stand {
			return invariant.Steaming
		}
		return invariant.Warm
	case controller.Heat, controller.Ready, controller.Still, controller.Push, controller.Quiet:
		return invariant.Warm
	case controller.Pour, controller.Settle, controller.Hoist:
		return invariant.Hands
	case controller.Mix:
		return invariant.Turning
	case controller.Drain:
		return invariant.Dripping
	case controller.Climb, controller.Door, controller.Break, controller.Boil:
		return invariant.Steaming
	case controller.Connect, controller.Cool:
		return invariant.Falling
	case controller.NoStage:
	}
	return invariant.Closed
}

func wishOf(w controller.Wish) invariant.Wish {
	switch w {
	case controller.NoWish:
		return invariant.Nothing
	case controller.Start:
		return invariant.Start
	case controller.Resume:
		return invariant.Resume
	case controller.TakeUp:
		return invariant.TakeUp
	case controller.TakeUpAlone:
		return invariant.Alone
	case controller.Stop:
		return invariant.Stop
	case controller.End:
		return invariant.End
	}
	return invariant.Other
}
