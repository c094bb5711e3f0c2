package rehearse

import (
	"fmt"
	"math"
	"strings"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/sim/fault"
)

// outcome is how one run of a row came out.
type outcome struct {
	after time.Duration // of the reaction
	acted bool          // there was one
	wrong []string      // what is not as it must be
	note  string        // what was seen beside
}

func (u *outcome) fail(format string, args ...any) {
	u.wrong = append(u.wrong, fmt.Sprintf(format, args...))
}

// mostOver is how far a passing fault may bring the true mash over its target, K:
// the most that is wanted of a kettle without any water test.
const mostOver = 1.5

// mild demands that what passes has not led to more heat than is wanted. healthy is
// how far over its targets this kettle comes without any fault.
func (o *ordeal) mild(u *outcome, healthy float64) {
	passes := o.row.expect == goesOn || o.row.expect == offers || o.row.expect == cuts && o.row.latches == 0
	if over := o.oracle.over; passes && !o.row.lies && over > max(mostOver, healthy+0.5) {
		u.fail("the true mash came %.1f K over its target, on a healthy day %.1f K", over, healthy)
	}
}

// longest is how long a run waits for what a delay counts from.
const longest = 6 * time.Hour

// lasting is how long the row's script is at work; 0: for good, or only the
// special knows.
func (r *tableRow) lasting() time.Duration {
	last := time.Duration(0)
	for _, f := range r.script {
		switch {
		case f.For == 0 && !f.Kind.AtOnce() && f.Kind != fault.TickLate:
			return 0
		default:
			last = max(last, f.At.After+f.For)
		}
	}
	return last
}

// judge runs a row to its end.
func (o *ordeal) judge() outcome {
	var u outcome
	if o.row.record || o.row.expect == offers {
		if err := o.recorded(); err != nil {
			u.fail("%v", err)
			return u
		}
	}
	switch o.row.expect {
	case unseen:
		o.judgeUnseen(&u)
	case goesOn:
		o.judgeCourse(&u)
	case offers:
		o.judgeOffer(&u)
	default:
		o.judgeReaction(&u)
	}
	if o.row.record {
		if _, _, err := o.reread(); err != nil {
			u.fail("%v", err)
		}
	}
	for _, b := range o.oracle.broken {
		u.fail("%s", b)
	}
	return u
}

// reacted is when the first of the expected reactions was there.
func (o *ordeal) reacted() (time.Duration, bool) {
	best, there := time.Duration(math.MaxInt64), false
	word := map[sort]string{cuts: "cut ", tripping: "trip ", alarms: "alarm ", isHeld: "held ", ends: "ended "}[o.row.expect]
	for _, id := range o.row.ids {
		if o.row.expect == isHeld || o.row.expect == ends {
			id = strings.ReplaceAll(id, "-", " ")
		}
		if at, ok := o.oracle.first[word+id]; ok {
			best, there = min(best, at), true
		}
	}
	return best, there
}

// judgeReaction waits for a cut, a trip, an alarm or a batch that holds itself.
func (o *ordeal) judgeReaction(u *outcome) {
	row := o.row
	from := o.oracle.began
	if ready := counting[row.counts]; ready != nil {
		if !o.until(longest, func(f *loop.Frame) bool { return ready(o, f) || o.judged() }) {
			u.fail("what its delay counts from never came")
			return
		}
		from = o.bench.Now()
	}
	o.until(from+row.within-o.bench.Now(), func(*loop.Frame) bool { return o.judged() })
	at, there := o.reacted()
	if !there {
		u.fail("no %v within %v; seen: %v", row.ids, row.within, o.seen())
		return
	}
	u.acted, u.after = true, max(0, at-from)
	switch row.expect {
	case cuts:
		o.afterCut(u)
	case tripping:
		o.afterTrip(u)
	case alarms:
		o.until(5*time.Minute, never)
		o.only(u)
	case isHeld, ends:
		o.stays(u, 2*time.Minute)
	}
}

func (o *ordeal) judged() bool { _, there := o.reacted(); return there }

// seen lists the reactions there were.
func (o *ordeal) seen() (all []string) {
	for what, at := range o.oracle.first {
		all = append(all, fmt.Sprintf("%s after %v", what, at-o.oracle.began))
	}
	return all
}

// only demands that nothing else cut or tripped.
func (o *ordeal) only(u *outcome) {
	for what := range o.oracle.first {
		kind, id, _ := strings.Cut(what, " ")
		fine := kind == "alarm" || kind == "held" || kind == "ended" || kind == "offered"
		for _, good := range o.row.ids {
			fine = fine || id == good && (kind == "cut" || o.row.expect == tripping || o.row.latches > 0)
		}
		for _, good := range o.row.may {
			fine = fine || id == good && (kind == "cut" || o.row.expect == alarms)
		}
		if !fine {
			u.fail("%s, which is not expected", what)
		}
	}
}

// stays demands that there is no heat for so long, in this process and in one
// that begins anew.
func (o *ordeal) stays(u *outcome, span time.Duration) {
	had := o.oracle.heat
	o.until(span, never)
	if o.oracle.heat > had {
		u.fail("%d s of heat within %v of it", o.oracle.heat-had, span)
	}
}

// afterCut lets a passing fault pass, and demands that the batch is on its course
// again; or waits for the trip that a lasting one becomes.
func (o *ordeal) afterCut(u *outcome) {
	row := o.row
	if row.latches > 0 {
		o.until(o.oracle.began+row.latches-o.bench.Now(), func(f *loop.Frame) bool { return f.Verdict.Trip != interlock.NoRule })
		if _, there := o.oracle.first["trip "+row.ids[0]]; !there {
			u.fail("a lasting cut is no trip within %v; seen: %v", row.latches, o.seen())
			return
		}
		o.afterTrip(u)
		return
	}
	o.until(o.oracle.began+row.lasting()-o.bench.Now(), never)
	o.returns(u)
	o.only(u)
}

// returns demands that heat is free again soon after the fault, by default 20 s (10 s
// of quiet, and what a reading needs to be believed), and the batch on its course.
func (o *ordeal) returns(u *outcome) {
	if o.row.special == "" && !o.until(o.row.back, func(f *loop.Frame) bool { return f.Verdict.Cut == interlock.NoRule }) {
		u.fail("heat is still withheld %v after the fault: %v", o.row.back, o.seen())
	}
	if err := o.onCourse(2 * time.Hour); err != nil {
		u.fail("%v", err)
	}
}

// afterTrip demands that no heat comes while the fault is there, that a new process
// has the trip, and that the batch goes on when somebody has mended and cleared.
func (o *ordeal) afterTrip(u *outcome) {
	o.only(u)
	o.stays(u, time.Minute)
	if o.oracle.o.row.where != "idle" {
		o.keptByAnother(u)
	}
	if o.row.lasts || o.row.where == "idle" {
		return
	}
	o.mend()
	if err := o.helped(); err != nil {
		u.fail("%v", err)
	} else if err := o.onCourse(4 * time.Hour); err != nil {
		u.fail("%v", err)
	}
}

// keptByAnother begins a process anew beside this one, and throws it away.
func (o *ordeal) keptByAnother(u *outcome) {
	other := *o
	other.on(o.bench.Clone(fault.New(nil)), nil)
	other.loop.State, other.loop.Guard, other.loop.Watch = o.loop.State.Offer(time.Minute, true), o.loop.Guard.Restarted(), o.loop.Watch.Restarted()
	other.loop.Watchers, other.oracle = nil, newOracle(&other)
	other.oracle.restarted(&o.loop.State, &other.loop.State, &other.loop.Guard)
	for range 30 {
		other.press(controller.TakeUp)
		if f := other.second(); f.Permitted == unit.On || f.Verdict.Trip == interlock.NoRule {
			u.fail("a new process has trip %v and heat %v", f.Verdict.Trip, f.Permitted)
			return
		}
	}
}

// judgeCourse demands that the batch goes on as if nothing were wrong. Where it is
// recorded, it is said in time that storage takes nothing, and nothing is missing in
// the end.
func (o *ordeal) judgeCourse(u *outcome) {
	if o.row.record {
		u.acted = o.until(o.row.within, func(*loop.Frame) bool { return o.recorder().Err() != nil })
		if u.after = o.bench.Now() - o.oracle.began; !u.acted {
			u.fail("not said within %v that nothing is stored", o.row.within)
		}
	}
	o.until(max(o.oracle.began+o.row.lasting()-o.bench.Now(), time.Minute), never)
	if err := o.onCourse(3 * time.Hour); err != nil {
		u.fail("%v", err)
	}
	o.only(u)
	if o.row.record && (o.recorder().Err() != nil || o.recorder().Lost() > 0) {
		u.fail("storage is well again; recorder: %v, %d ticks lost", o.recorder().Err(), o.recorder().Lost())
	}
}

// judgeUnseen demands that nothing is found for so long, and how far the true
// mash has come by then. What is seen after all belongs into SAFETY.md.
func (o *ordeal) judgeUnseen(u *outcome) {
	o.until(o.row.watched, func(f *loop.Frame) bool {
		first := 1 + b2u(o.c.run.Plan.Kettle.Pump) // the mash-in, or the rest behind it
		return o.row.where == "start" && uint64(f.Decision.Index) == first && f.Decision.Stage == controller.Count && f.State.InStage > 8*time.Minute
	})
	for what := range o.oracle.first {
		if !strings.HasPrefix(what, "alarm") {
			u.fail("%s: what was thought invisible is seen; say so in SAFETY.md", what)
		}
	}
	target := o.loop.State.Steps[o.loop.State.Index].Target
	far := float64(o.kettle.Mash() - target)
	if want := float64(o.row.off); want > 0 && far < want || want < 0 && far > want {
		u.fail("the true mash is %.1f K from its target; want beyond %.1f K", far, want)
	}
	if o.row.off == 0 {
		if err := o.onCourse(2 * time.Hour); err != nil {
			u.fail("%v", err)
		}
		return
	}
	o.until(8*time.Hour, func(f *loop.Frame) bool {
		return f.Verdict.Trip != interlock.NoRule || f.Decision.Mode != controller.Running
	})
	f := o.loop.Latest()
	u.note = fmt.Sprintf("true mash %+.1f K then; found as %v after %v, at true %.1f °C",
		far, f.Verdict.Trip, f.Tick.Now-o.oracle.began, float64(o.kettle.Mash()))
}

// judgeOffer kills the process at the moment, and has a person take the batch up
// again.
func (o *ordeal) judgeOffer(u *outcome) {
	o.until(20*time.Second, never) // something to lose
	if err := o.restart(10*time.Minute, o.row.special == "supply-cut"); err != nil {
		u.fail("%v", err)
		return
	}
	u.acted = true
	o.stays(u, 2*time.Minute)
	o.press(controller.TakeUp)
	if o.second(); o.loop.State.Mode != controller.Running {
		u.fail("it is %v after a person's word", o.loop.State.Mode)
		return
	}
	if err := o.onCourse(3 * time.Hour); err != nil {
		u.fail("%v", err)
	}
}
