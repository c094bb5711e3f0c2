package rehearse

import (
	"fmt"
	"math"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/sensors"
	"mashward/sim"
)

// oracle looks at the frames of a run, and at the true kettle, and knows nothing
// of how they came about: what may never be, and when what happened first.
type oracle struct {
	o     *ordeal
	began time.Duration // run clock at which the fault began
	limit float64       // °C that permitted heat may never bring the kettle to

	first  map[string]time.Duration // when a reaction was first there: "cut stale", "trip ..", "alarm ..", "held .."
	broken []string                 // what may never be and was

	good    time.Duration // when the newest reading that makes sense was taken
	hasGood bool
	value   unit.Celsius
	tripped bool
	before  time.Duration // run clock of the last frame
	step    time.Duration // from the frame before to it
	index   uint8
	earned  time.Duration
	heat    int     // seconds of permitted heat
	over    float64 // K that the true mash came over its target in a heat-up or rest
}

func newOracle(o *ordeal) oracle {
	s := &o.loop.State
	l := o.loop.Limits
	most := max(l.MashCeiling, l.BoilCeiling)
	if l.Rig > 0 {
		most = min(most, l.Rig)
	}
	return oracle{
		o: o, began: o.bench.Now(), limit: float64(most), first: map[string]time.Duration{}, before: o.bench.Now(),
		index: s.Index, earned: s.Earned,
		// What was read just before the fault is as good as it was.
		good: o.bench.Latest().Taken, hasGood: o.bench.Latest().Good(), value: o.bench.Latest().Value,
	}
}

// never notes what may never be, the first few times.
func (r *oracle) never(now time.Duration, format string, args ...any) {
	if len(r.broken) < 3 {
		r.broken = append(r.broken, fmt.Sprintf("%v after the fault: ", now-r.began)+fmt.Sprintf(format, args...))
	}
}

// Watch implements loop.Watcher.
func (r *oracle) Watch(f *loop.Frame) {
	now, v, d := f.Tick.Now, f.Verdict, &f.Decision
	if v.Cut != interlock.NoRule && f.Permitted == unit.Off {
		r.note("cut "+v.Cut.String(), now)
	}
	if v.Trip != interlock.NoRule && f.Permitted == unit.Off {
		r.note("trip "+v.Trip.String(), now)
	}
	for a, on := range d.Alarms {
		if on {
			r.note("alarm "+controller.Alarm(a).String(), now)
		}
	}
	if d.Mode == controller.Held && f.Permitted == unit.Off && d.Pump == unit.Off {
		r.note("held "+d.Reason.String(), now)
	}
	if d.Mode.Ended() && d.Mode != controller.Complete && f.Permitted == unit.Off && d.Pump == unit.Off {
		r.note("ended "+d.Reason.String(), now)
	}
	r.reading(f.Tick.Reading, now)
	r.over = max(r.over, overshoot(f, float64(r.o.kettle.Mash())))
	r.kept(f)
	if f.Permitted == unit.On {
		r.heat++
		r.heated(f)
	}
	r.before, r.step = now, now-r.before
}

func (r *oracle) note(what string, now time.Duration) {
	if _, there := r.first[what]; !there {
		r.first[what] = now
	}
}

// reading keeps the newest reading that can be one of a kettle at all: a figure
// from -5 to 110 °C, measured and not from the future.
func (r *oracle) reading(x sensors.Reading, now time.Duration) {
	value := float64(x.Value)
	if x.Fault == sensors.None && x.Taken <= now && x.Taken >= r.good && !math.IsNaN(value) && value >= -5 && value <= 110 {
		r.good, r.hasGood, r.value = x.Taken, true, x.Value
	}
}

// heated holds permitted heat to what it needs.
func (r *oracle) heated(f *loop.Frame) {
	now, d := f.Tick.Now, &f.Decision
	switch {
	case !r.hasGood || now-r.good > 5*time.Second:
		r.never(now, "heat on a reading of %v ago", now-r.good)
	case float64(r.value) >= r.limit:
		r.never(now, "heat at a reading of %.1f °C, limit %.1f °C", float64(r.value), r.limit)
	case d.Wanted != unit.On || !d.Mode.Heats():
		r.never(now, "heat that nobody wants, %v", d.Mode)
	case r.tripped:
		r.never(now, "heat after a trip that nobody has cleared")
	case now-r.before > 3*time.Second:
		r.never(now, "heat in the first tick after %v without one", now-r.before)
	}
	if truth := float64(r.o.kettle.Mash()); !r.o.row.lies && truth > r.limit+1 {
		r.never(now, "heat at true %.1f °C, limit %.1f °C", truth, r.limit)
	}
}

// kept holds what has to be preserved: a trip until a person clears it, earned
// time within its step.
func (r *oracle) kept(f *loop.Frame) {
	now, d := f.Tick.Now, &f.Decision
	if f.Tick.Command.Wish == controller.ClearTrip {
		r.tripped = false
	}
	if f.Verdict.Trip != interlock.NoRule {
		r.tripped = true
	} else if r.tripped {
		r.never(now, "a trip has gone that nobody cleared")
		r.tripped = false
	}
	if d.Index == r.index && d.Earned < r.earned && d.Mode != controller.Idle {
		r.never(now, "earned time fell from %v to %v", r.earned, d.Earned)
	}
	if d.Mode == controller.Offered && (f.Permitted == unit.On || d.Pump == unit.On) {
		r.never(now, "an offered batch heats or pumps")
	}
	r.index, r.earned = d.Index, d.Earned
	r.leased(r.o.bench, now)
}

// leased holds the line to its lease: never on for longer than 3 s in one tick.
func (r *oracle) leased(b *sim.Bench, now time.Duration) {
	if on := b.Element().OnTime(); on > loop.Lease {
		r.never(now, "the line was on for %v in one tick", on)
	}
}

// alone is a second without a process: no line may be on for longer than a lease.
func (r *oracle) alone(b *sim.Bench) {
	if b.Now()-r.before > loop.Lease && b.Element().Applied() == unit.On {
		r.never(b.Now(), "the line is on %v after the last tick", b.Now()-r.before)
	}
}

// restarted compares what a new process has with what the old one had.
func (r *oracle) restarted(was, is *controller.State, guard *interlock.Guard) {
	now := r.before
	if is.Mode != controller.Offered {
		r.never(now, "a new process has the batch %v", is.Mode)
	}
	if lost := was.Earned - is.Earned; is.Index == was.Index && lost > 5*time.Second || is.Index+1 < was.Index {
		r.never(now, "%v of earned time lost by a restart (step %d, was %d)", lost, is.Index, was.Index)
	}
	tripped := false
	for _, m := range guard.Marks {
		tripped = tripped || m.State == interlock.Tripped
	}
	if r.tripped && !tripped {
		r.never(now, "a restart has cleared a trip")
	}
	r.tripped = r.tripped || tripped
	r.index, r.earned, r.hasGood = is.Index, is.Earned, false
	r.note("offered", now)
	r.before = r.o.bench.Now()
}
