package interlock

import (
	"math"
	"time"

	"mashward/controller/unit"
)

// grade is what a rule says about this instant.
type grade uint8

const (
	absent grade = iota
	cut
	trip
)

// Step judges one instant. It permits On only when On is wanted and no rule
// holds it back. Time that does not move on, or is negative, is refused: off,
// and the Guard stays as it was.
func (l Limits) Step(g Guard, f Facts) (Guard, Verdict) {
	if f.Now < 0 || (g.Started && f.Now <= g.Now) {
		v := g.verdict(unit.Off)
		if v.Cut == NoRule {
			v.Cut = TickLate
		}
		return g, v
	}
	l = l.Tighten()
	first := !g.Started
	var dt time.Duration
	if !first {
		dt = f.Now - max(g.Now, 0)
	}
	g.Started, g.Now = true, f.Now
	g, odd := g.take(f)
	g = g.count(f, dt)
	g = l.boiledOff(g, f, dt)
	for r, c := range l.judge(g, f, dt, odd) {
		g.Marks[r] = g.Marks[r].next(Rule(r), c, g, f)
	}
	wanted := f.Wanted
	if first {
		wanted = unit.Off
	}
	return g, g.verdict(wanted)
}

// count goes on with the times under arming and under heat.
func (g Guard) count(f Facts, dt time.Duration) Guard {
	if f.Armed {
		g.Armed = plus(max(g.Armed, 0), dt)
	} else {
		g.Armed = 0
	}
	if f.Applied != unit.Off {
		g.OnFor = plus(max(g.OnFor, 0), dt)
	} else {
		g.OnFor = 0
	}
	return g
}

// judge asks every rule about this instant.
func (l Limits) judge(g Guard, f Facts, dt time.Duration, odd bool) [ruleEnd]grade {
	var c [ruleEnd]grade
	c[Stale] = stale(g)
	c[Implausible] = implausible(f, odd)
	c[OverTemperature] = overTemperature(l, g, f)
	c[NotArmed] = notArmed(l, g, f)
	c[Empty] = empty(l, g, f)
	c[OnTooLong] = onTooLong(l, g, f)
	c[TickLate] = tickLate(dt)
	if f.Finding.isFinding() {
		c[f.Finding] = found(f.Finding)
	}
	return c
}

// stale: heat needs an accepted reading that is at most Fresh old.
func stale(g Guard) grade {
	if g.fresh() {
		return absent
	}
	return cut
}

// implausible: the newest reading is out of range, jumps or goes back in time,
// or a finding makes no sense.
func implausible(f Facts, odd bool) grade {
	if odd || (f.Finding != NoRule && !f.Finding.isFinding()) {
		return cut
	}
	return absent
}

// overTemperature: the accepted reading is at or above the limit in force. An
// old one counts too: nothing has shown that it is cooler by now.
func overTemperature(l Limits, g Guard, f Facts) grade {
	if g.Seen && !(g.Last.Value < l.inForce(f.Armed, f.Stage)) {
		return trip
	}
	return absent
}

// notArmed: heat is wanted, but nobody armed the batch, the arming has run
// out, or the batch is neither running nor paused.
func notArmed(l Limits, g Guard, f Facts) grade {
	good := f.Armed && f.Heats && g.Armed < l.ArmedFor
	if f.Wanted == unit.On && !good {
		return cut
	}
	return absent
}

// empty: the balance says that the element will soon be bare (trip), or the
// level switch does not say filled (cut; a rig without one says Unknown).
func empty(l Limits, g Guard, f Facts) grade {
	if g.Declared != 0 && !(g.left() > l.CoveredAt+LevelMargin) {
		return trip
	}
	if f.EmptySwitch != Unknown && f.EmptySwitch != Filled {
		return cut
	}
	return absent
}

// onTooLong: heating without a break for longer than the plan can need.
// Before arming there is no plan and LongestOn stands.
func onTooLong(l Limits, g Guard, f Facts) grade {
	limit := LongestOn
	if f.Armed {
		limit = l.OnLimit
	}
	if g.OnFor > limit || (g.OnFor == limit && f.Wanted == unit.On) {
		return trip
	}
	return absent
}

// tickLate: the loop was away for longer than the lease.
func tickLate(dt time.Duration) grade {
	if dt > LateAfter {
		return cut
	}
	return absent
}

// found: a finding latches, except that a probe may come back.
func found(r Rule) grade {
	if r.cuts() {
		return cut
	}
	return trip
}

// next is the mark of a rule after this instant.
func (m Mark) next(r Rule, c grade, g Guard, f Facts) Mark {
	if c != absent {
		if m.State == Quiet {
			m.State, m.Since = Cutting, g.Now
		}
		m.Seen = g.Now
	}
	// An idle kettle without a probe is no alarm: only time under arming makes
	// a lasting cut a trip.
	lasting := c == cut && r.persists() && g.Armed > TripAfter && g.Now-m.Since > TripAfter
	quiet := c == absent && g.Now-m.Seen >= QuietFor
	switch {
	case m.State >= Tripped:
		if c == absent && f.Clear {
			return m.cleared(r, quiet, g.Now)
		}
	case c == trip || lasting:
		m.State, m.Since = Tripped, g.Now
	case quiet:
		return Mark{}
	}
	return m
}

// cleared is a trip that a person has cleared: a rule that can cut still waits
// until its cause has been gone for QuietFor.
func (m Mark) cleared(r Rule, quiet bool, now time.Duration) Mark {
	if r.cuts() && !quiet {
		return Mark{State: Cutting, Since: now, Seen: m.Seen}
	}
	return Mark{}
}

// plus adds two durations and stops at the end of the scale instead of
// running over into the past.
func plus(a, b time.Duration) time.Duration {
	if b > 0 && a > math.MaxInt64-b {
		return math.MaxInt64
	}
	return a + b
}
