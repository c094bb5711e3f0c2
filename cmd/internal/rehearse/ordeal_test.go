package rehearse

import (
	"cmp"
	"errors"
	"fmt"
	"time"

	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/record"
	"mashward/controller/unit"
	"mashward/controller/verify"
	"mashward/sim"
	"mashward/sim/fault"
)

// standIn is who controls the kettle instead of mashward: one that cannot be
// right, to see whether a row would notice.
type standIn uint8

const (
	ourselves standIn = iota
	idler             // never heats
	stoker            // always heats; there is no interlock
)

// ordeal is one run of a row from a moment of a healthy day on.
type ordeal struct {
	c      *caught
	row    *tableRow
	stand  standIn
	loop   loop.Loop
	bench  *sim.Bench
	kettle *Simulated
	person *Person
	wishes []controller.Command // pressed before the person presses anything
	oracle oracle
	frame  loop.Frame // of a stand-in
	card   *card
}

// card is storage that knows what a power cut would leave.
type card struct {
	record.Memory
	safe int
}

// Sync implements record.Storage.
func (c *card) Sync() error {
	c.safe = len(c.Bytes)
	return c.Memory.Sync()
}

// begin goes on from a moment, with a row's fault in it.
func (c *caught) begin(i *instant, row *tableRow, stand standIn) *ordeal {
	o := &ordeal{c: c, row: row, stand: stand, card: &card{}}
	bench := i.bench
	if row.where == "start" || row.where == "idle" {
		bench = freshBench(c, row)
	}
	injector := fault.New(row.script)
	injector.Armed(bench.Now())
	o.on(bench.Clone(injector), injector)
	o.loop.Core, o.loop.Limits, o.loop.Verifier = c.run.loop.Core, c.run.loop.Limits, verify.Verifier{Params: c.run.Checks}
	o.loop.State, o.loop.Guard, o.loop.Watch = i.state, i.guard, i.watch
	switch row.where {
	case "start":
		o.loop.State = controller.Initial()
		o.person.Start()
	case "idle":
		o.loop.State, o.loop.Limits.ArmedFor = controller.Initial(), 0
	}
	o.oracle = newOracle(o)
	o.special()
	return o
}

// on puts everything on a bench.
func (o *ordeal) on(b *sim.Bench, injector *fault.Injector) {
	o.bench, o.kettle = b, &Simulated{Bench: b, Faults: injector}
	if o.person == nil {
		o.person = &Person{Delay: o.c.run.Delay}
	}
	o.person.Do, o.person.Level = o.kettle.Do, o.level
	o.loop.Pacer, o.loop.Probe, o.loop.Element, o.loop.Orders = o.kettle, o.kettle, o.kettle.Element(), o
	if o.c.run.Plan.Kettle.Pump {
		o.loop.Pump = b.Pump()
	}
	if o.stand == idler {
		o.loop.Element = unplugged{o.loop.Element}
	}
}

// unplugged is a line that nobody ever switches on.
type unplugged struct{ loop.Element }

// Hold implements line.Line.
func (u unplugged) Hold(_ unit.Relay, lease time.Duration) error {
	return u.Element.Hold(unit.Off, lease)
}

func (o *ordeal) level() unit.Litres {
	return unit.Litres(float64(int(float64(o.bench.Plant().Truth().Volume)*10)) / 10)
}

// Take implements loop.Orders.
func (o *ordeal) Take() (controller.Command, controller.Proposal) {
	if len(o.wishes) > 0 {
		c := o.wishes[0]
		o.wishes = o.wishes[1:]
		return c, controller.Proposal{}
	}
	return o.person.Take(), controller.Proposal{}
}

func (o *ordeal) press(w controller.Wish) {
	c := controller.Command{Wish: w}
	if w == controller.TakeUp {
		c.Volume = o.level()
	}
	o.wishes = append(o.wishes, c)
}

// second lets one tick pass.
func (o *ordeal) second() *loop.Frame {
	now, _ := o.loop.Pacer.Next()
	f := o.tick(now)
	o.oracle.Watch(f)
	for _, w := range o.loop.Watchers {
		if o.stand != ourselves {
			w.Watch(f)
		}
	}
	o.person.Watch(f)
	return f
}

// tick is a tick of mashward, or of its stand-in. The idler has mashward's checks
// and interlock; its wish is what is broken. The stoker has neither.
func (o *ordeal) tick(now time.Duration) *loop.Frame {
	switch o.stand {
	case idler:
		o.frame = *o.loop.Tick(now)
		o.frame.Decision.Wanted, o.frame.Permitted, o.frame.Verdict.Permitted = unit.Off, unit.Off, unit.Off
		return &o.frame
	case stoker:
		l, f := &o.loop, &o.frame
		f.Number++
		f.Tick = controller.Tick{Now: now, Reading: l.Probe.Latest(), Applied: l.Element.Applied()}
		f.Tick.Command, _ = l.Orders.Take()
		l.State, f.Decision = l.Core.Step(l.State, f.Tick)
		f.State, f.Watch = &l.State, &l.Watch
		f.Decision.Wanted, f.Permitted, f.Verdict.Permitted = unit.On, unit.On, unit.On
		f.LineFault = l.Element.Hold(unit.On, loop.Lease)
		if l.Pump != nil {
			_ = l.Pump.Hold(f.Decision.Pump, loop.Lease)
		}
		return f
	}
	return o.loop.Tick(now)
}

// until lets time pass until done, and tells whether it came to that.
func (o *ordeal) until(limit time.Duration, done func(*loop.Frame) bool) bool {
	for end := o.bench.Now() + limit; o.bench.Now() < end; {
		if done(o.second()) {
			return true
		}
	}
	return false
}

// place is how warm it truly is where the probe belongs.
func (o *ordeal) place() unit.Celsius { return o.bench.Plant().Truth().ProbePlace }

func never(*loop.Frame) bool { return false }

// mend ends whatever is wrong with the kettle, and leaves it as it has become.
func (o *ordeal) mend() {
	healthy := fault.New(nil)
	o.on(o.bench.Clone(healthy), healthy)
	o.person.Delay = o.c.run.Delay
}

// recorded has the run recorded from here on.
func (o *ordeal) recorded() error {
	head := record.Head{Simulated: true, Config: o.loop.Core.Config, Limits: o.loop.Limits, Checks: o.c.run.Checks}
	recorder, err := record.New(&faulty{Storage: o.card, kettle: o.kettle}, head, o.loop.State, o.keeps())
	if err != nil {
		return err
	}
	o.loop.Watchers = append(o.loop.Watchers, recorder)
	return nil
}

func (o *ordeal) keeps() record.Options {
	return record.Options{Direct: true, Guard: &o.loop.Guard, Watch: &o.loop.Watch}
}

// recorder is who records; nil where nobody does.
func (o *ordeal) recorder() *record.Recorder {
	for _, w := range o.loop.Watchers {
		if r, ok := w.(*record.Recorder); ok {
			return r
		}
	}
	return nil
}

// reread replays what is recorded. The record must open, whatever was cut off.
func (o *ordeal) reread() (record.Result, int64, error) {
	r, err := record.Read(o.card)
	if err != nil {
		return record.Result{}, 0, err
	}
	got, err := record.Replay(r)
	if err == nil && (!got.Same() || !got.Known) {
		err = fmt.Errorf("the record does not replay: %v, %v, last state known %v", got.Difference, got.Drift, got.Known)
	}
	return got, r.Torn(), err
}

// restart kills the process, lets the kettle be alone for a while and starts
// another, as the daemon does: the state of the record, offered. power tells that
// the supply went too: what no sync confirmed is gone.
func (o *ordeal) restart(away time.Duration, power bool) error {
	if power {
		o.card.Bytes = o.card.Bytes[:o.card.safe]
	}
	last, torn, err := o.reread()
	if err != nil {
		return err
	}
	if err := o.card.Truncate(int64(len(o.card.Bytes)) - torn); err != nil {
		return err
	}
	was := o.loop.State
	for end := o.bench.Now() + away; o.bench.Now() < end; {
		o.bench.Next()
		o.oracle.alone(o.bench)
	}
	o.loop.Watchers = nil
	o.loop.State, o.loop.Guard, o.loop.Watch = last.Last.State.Offer(away, false), last.Last.Guard.Restarted(), last.Last.Watch.Restarted()
	o.oracle.restarted(&was, &o.loop.State, &o.loop.Guard)
	recorder, err := record.Continue(&faulty{Storage: o.card, kettle: o.kettle}, o.loop.State, o.keeps())
	if err != nil {
		return err
	}
	o.loop.Watchers = append(o.loop.Watchers, recorder)
	return nil
}

// helped is what a person does after a trip, when its cause has been mended: look
// for a minute, clear it as soon as that is possible, go on.
func (o *ordeal) helped() error {
	o.until(time.Minute, never)
	if !o.until(15*time.Minute, func(f *loop.Frame) bool {
		if f.Verdict.Trip != 0 && int(f.Tick.Now.Seconds())%10 == 0 {
			o.press(controller.ClearTrip)
		}
		return f.Verdict.Trip == 0 && f.Verdict.Cut == 0
	}) {
		return errors.New("what is mended cannot be cleared within 15 min")
	}
	if o.loop.State.Mode == controller.Offered {
		o.press(controller.TakeUp)
	} else {
		o.press(controller.Resume)
	}
	if o.second(); o.loop.State.Mode != controller.Running {
		return fmt.Errorf("what is mended does not go on: %v (%v)", o.loop.State.Mode, o.loop.State.Reason)
	}
	return nil
}

// onCourse demands that the batch comes to a rest, or back to it, and holds it for
// five minutes within a kelvin, truly, where the probe is, or to its end; heat has
// to have been given for it.
func (o *ordeal) onCourse(patience time.Duration) error {
	heat, band, from := 0, 0, o.bench.Now()
	wild, began := 0.0, o.loop.State.Mode
	if o.until(patience, func(f *loop.Frame) bool {
		d := &f.Decision
		if f.Permitted == unit.On {
			heat++
		}
		miss := float64(o.place() - d.Target)
		resting := d.Mode == controller.Running && d.Stage == controller.Count && d.Reached
		if wild = miss; resting && miss > -float64(o.row.below) && miss < 1 {
			band++
		} else if band < 300 {
			band = 0
		}
		done := d.Mode == controller.Complete
		return (band >= 300 || done) && (heat > 0 || o.row.where == "boil") && f.Tick.Now-from >= 10*time.Minute
	}) {
		return nil
	}
	s := &o.loop.State
	return fmt.Errorf("not on course after %v: %v (%v, was %v), step %d, %v, truly %.1f K from its target, %d s of heat", patience,
		s.Mode, cmp.Or(s.Reason.String(), "-"), began, s.Index, s.Stage, wild, heat)
}
