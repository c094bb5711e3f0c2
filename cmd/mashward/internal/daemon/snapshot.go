package daemon

import (
	"sync"
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/cmd/internal/late"
	"mashward/cmd/internal/suggest"
	"mashward/cmd/internal/wort"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile/enzyme"
	"mashward/profile/strict"
	"mashward/sensors"
)

// Snapshot is what was so at the end of one tick. It is never changed after it
// has been published; slices in it only grow in later ones.
type Snapshot struct {
	Number       uint64
	Wall         time.Time
	Rig          string
	Simulated    bool
	HeatDisabled bool           // the rig file is broken
	RigFaults    []strict.Fault // why
	Disabled     string         // or why, where the rig is good
	Differs      string         // a file on disk differs from what runs; "" if none does

	Now       time.Duration
	Reading   sensors.Reading
	Decision  controller.Decision
	Cut, Trip interlock.Rule
	Heating   unit.Relay   // what the element was permitted
	LineFault error        // nobody knows what a line does; nil if all answer
	GaveUp    bool         // a line has, and is not switched on until a person has looked
	Limit     unit.Celsius // over-temperature limit in force
	Unstored  error        // why what happens now is not on storage; nil if it is, or if no records are kept

	Unoffered string // why a batch that was cut off is not offered; "" if there is none

	Alarms []Alarm // since the start, the oldest first

	Waiting *Waiting // what was armed for later; nil: nothing

	Batch   *Batch // nil before the first batch
	Offer   *Offer // nil: none is offered
	GrainIn bool
	History []Point
	Log     []Entry
	Mash    enzyme.State   // what its enzymes have left, by the estimate
	Mashing bool           // the grain is in, as far as the enzymes go
	Wort    *wort.Expected // where the wort comes to; nil: not known
	Advice  []string       // what the readings of a batch that is over suggest
	Learnt  *suggest.Told  // what the strike heat-up of this batch suggests; nil: nothing, or not worked out yet
	// Forecast is how the batch goes on, as worked out within the last minute; nil: not
	// known, or none runs.
	Forecast *ahead.Forecast
	at       *ahead.Instant // what is asked of it is asked of this; nil: no batch is under way
	Pace     float64        // how fast the batch goes by the clock on the wall; 0: as it does
	Late     *late.Account  // how late it is and why; nil: not known
}

// Point is one point of the day's course.
type Point struct {
	At       time.Duration // since arming
	Reading  float32       // °C, NaN if there is none
	Estimate float32
	Target   float32
	Duty     float32 // mean over the time since the last point
	Step     uint8
	Enzymes  bool       // the grain is in, and what its enzymes have left is known:
	Beta     [2]float32 // the least and the most of it, as shares of what came in
	Alpha    [2]float32
}

// Entry is one sentence of the day.
type Entry struct {
	At   time.Duration // since arming
	Wall time.Time
	Kind controller.EventKind
	Text string
}

// every is the distance of two points of the history.
const every = 5 * time.Second

// What a batch that is held for days may keep in memory.
const (
	mostPoints  = int(24 * time.Hour / every)
	mostEntries = 2000
)

// tell keeps a sentence of the day. When there are too many the older half
// goes, into a new list: snapshots share the old one.
func (d *Daemon) tell(e Entry) {
	if len(d.log) >= mostEntries {
		d.log = append(make([]Entry, 0, mostEntries), d.log[mostEntries/2:]...)
	}
	d.log = append(d.log, e)
}

// history keeps the course of a batch. It only grows, so that snapshots may
// share it.
type history struct {
	points []Point
	due    time.Duration
	duty   float64
	ticks  int
}

// add takes one frame, and the mash as it stands then.
func (h *history) add(f *loop.Frame, mash *enzyme.Course) {
	d := &f.Decision
	h.duty += float64(f.Permitted)
	h.ticks++
	if d.Clock < h.due || len(h.points) >= mostPoints {
		return
	}
	nan := float32(nan())
	p := Point{At: d.Clock, Reading: nan, Estimate: nan, Target: nan, Duty: float32(h.duty / float64(h.ticks)), Step: d.Index}
	if f.Tick.Reading.Good() {
		p.Reading = float32(f.Tick.Reading.Value)
	}
	if d.HasEstimate {
		p.Estimate = float32(d.Estimate)
	}
	if d.HasTarget {
		p.Target = float32(d.Target)
	}
	if e, known := mash.State().Estimate(); known && mash.Mashing() {
		p.Enzymes = true
		p.Beta = [2]float32{float32(e.BetaLeft.Low), float32(e.BetaLeft.High)}
		p.Alpha = [2]float32{float32(e.AlphaLeft.Low), float32(e.AlphaLeft.High)}
	}
	h.points = append(h.points, p)
	h.due, h.duty, h.ticks = d.Clock+every, 0, 0
}

// publish shows the end of this tick to everyone.
func (d *Daemon) publish(f *loop.Frame) {
	d.number++
	dec := &f.Decision
	if d.batch != nil {
		d.mash.Watch(f)
		d.wort.Watch(f)
		d.late.Watch(f)
	}
	if d.batch != nil && !dec.Mode.Ended() {
		d.past.add(f, &d.mash.Course)
	}
	s := &Snapshot{
		Number: d.number, Wall: d.o.Now(), Rig: d.o.Rig.Name, Simulated: d.o.Simulated,
		Now: f.Tick.Now, Reading: f.Tick.Reading, Decision: *dec, Cut: f.Verdict.Cut, Trip: f.Verdict.Trip,
		Heating: f.Permitted, LineFault: unanswered(f.LineFault), GaveUp: f.GaveUp, Limit: d.loop.Limits.InForce(f.Facts.Armed, f.Facts.Stage),
		Mash: d.mash.Course.State(), Mashing: d.mash.Course.Mashing(),
		Unstored: d.unstored(f), Unoffered: d.unoffered, Waiting: d.whatWaits(f.Tick.Now), Batch: d.batch, Offer: d.shown(f), GrainIn: f.State.GrainIn, History: d.past.points, Log: d.log,
	}
	if d.batch != nil {
		s.Wort = d.wort.Expect()
	}
	if d.batch != nil && dec.Mode.Ended() {
		s.Advice = suggest.Advise(d.wort)
	}
	if text := d.differ.Load(); text != nil {
		s.Differs = *text
	}
	s.Pace = d.pace()
	if a, known := d.late.Account(); known {
		s.Late = &a
	}
	if l := d.learnt.Load(); l != nil && d.batch != nil && l.batch == d.batch.ID {
		s.Learnt = l.told
	}
	s.Forecast, s.at = d.forecastOf(dec.Mode), d.instant(f, s)
	s.Alarms = d.alarms.keep(s.Standing(), s.Now, s.Wall)
	d.latest.Store(s)
	d.bell.ring()
}

// Latest is the newest snapshot; never nil.
func (d *Daemon) Latest() *Snapshot { return d.latest.Load() }

// Changed is closed when a newer snapshot than the present one is there.
func (d *Daemon) Changed() <-chan struct{} { return d.bell.wait() }

// bell wakes whoever waits for the next snapshot; it waits for nobody.
type bell struct {
	mu sync.Mutex
	c  chan struct{}
}

func (b *bell) wait() <-chan struct{} {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.c == nil {
		b.c = make(chan struct{})
	}
	return b.c
}

func (b *bell) ring() {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.c != nil {
		close(b.c)
		b.c = nil
	}
}
