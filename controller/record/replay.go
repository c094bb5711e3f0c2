package record

import (
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"runtime"
	"strings"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/invariant"
	"mashward/controller/loop"
	"mashward/controller/verify"
)

// Result is what a replay found.
type Result struct {
	Ticks       uint64 // replayed and compared
	Skipped     uint64 // passed over: before the checkpoint to start from, or after a gap
	Checkpoints int    // compared whole
	Interlock   bool   // the verdicts were compared too
	// Exact: compared bit by bit. Otherwise the record is from another kind of
	// machine or another version of the program: what is recorded of each
	// decision is compared, with Tolerance, and the state is taken afresh from
	// each checkpoint that can be read.
	Exact      bool
	Why        string      // why it is not exact
	Difference *Difference // the first decision that differs; the replay stops there. nil if there is none
	Drift      *Difference // the first checkpoint whose state or guard differs; nil if there is none

	// Judged is how many ticks were held to what must always hold: those from the
	// start on, and up to the first gap. Broken are the first of what did not.
	Judged uint64
	Broken []invariant.Breach

	// Last state and guard, for going on after a restart. Known is false when
	// the record ends in a gap.
	Last  Checkpoint
	Known bool
}

// Same tells whether decisions and states all came back.
func (r *Result) Same() bool { return r.Difference == nil && r.Drift == nil }

// Tolerance is how far floats may differ where machines round differently:
// some fuse a multiplication with an addition and some do not.
const Tolerance = 1e-6

// Difference is where a replay first came to something else than the record.
type Difference struct {
	Tick   uint64
	At     string // the run clock
	Fields []Field
}

// Field is one thing that differs.
type Field struct {
	Name, Recorded, Replayed string
}

// String is the difference in one line.
func (d *Difference) String() string {
	var s strings.Builder
	fmt.Fprintf(&s, "tick %d at %s:", d.Tick, d.At)
	for _, f := range d.Fields {
		fmt.Fprintf(&s, " %s was %s, now %s;", f.Name, f.Recorded, f.Replayed)
	}
	return strings.TrimSuffix(s.String(), ";")
}

var (
	errNoStart  = errors.New("replay: the record has no start that this program can read: replay it with the version that wrote it")
	errTooShort = errors.New("replay: no checkpoint stands that far on")
)

// Replay feeds the record from its start through the core and the interlock
// and compares what they decide. It stops at the first decision that differs. The error
// is for a record that cannot be read to its end; Result is good up to there.
func Replay(r *Reader) (Result, error) { return ReplayFrom(r, 0) }

// ReplayFrom replays from the first checkpoint at or after that tick.
func ReplayFrom(r *Reader, tick uint64) (Result, error) {
	if r.foreign != nil {
		return Result{}, fmt.Errorf("replay: %w", r.foreign)
	}
	p := player{r: r, from: tick, core: controller.Core{Config: r.Head.Config}, checks: verify.Verifier{Params: r.Head.Checks}}
	p.laws.Day = loop.DayOf(&r.Head.Config, &r.Head.Limits)
	p.result.Interlock = r.Head.Guarded
	p.result.Exact, p.result.Why = exact(&r.Head)
	err := p.run()
	p.result.Last, p.result.Known = p.now, p.live
	if err == nil && p.result.Difference == nil && p.result.Ticks == 0 && p.result.Skipped > 0 {
		err = errTooShort
		if !p.seen {
			err = errNoStart
		}
	}
	return p.result, err
}

// exact tells whether every bit of a decision must come back.
func exact(h *Head) (bool, string) {
	switch ours := shapes(); {
	case h.Arch != runtime.GOARCH:
		return false, fmt.Sprintf("recorded on %s, replayed on %s", h.Arch, runtime.GOARCH)
	case h.Shapes != ours:
		return false, "recorded by a version of the program with other decisions"
	}
	return true, ""
}

// player is a replay under way.
type player struct {
	r      *Reader
	from   uint64
	laws   invariant.Checker
	core   controller.Core
	checks verify.Verifier
	now    Checkpoint
	live   bool // now holds the state after the last tick
	seen   bool // there was a checkpoint that could be read
	lawful bool // laws has seen every tick since the start
	past   uint64
	result Result
	mine   Tick
}

func (p *player) run() error {
	for p.result.Difference == nil {
		b, err := p.r.Next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		switch b.Kind {
		case KindStart:
			p.take(b, p.from <= p.past+1)
			p.laws, p.lawful = p.laws.Restarted(), p.live && p.result.Interlock
		case KindCheckpoint:
			p.checkpoint(b)
		case KindTick:
			p.past = b.Tick.Number
			if !p.live {
				p.result.Skipped++
				continue
			}
			p.tick(&b.Tick)
		case KindGap:
			p.live, p.lawful = false, false
		}
	}
	return nil
}

// take goes on from what the block holds.
func (p *player) take(b *Block, wanted bool) {
	p.live = false
	if b.Strange != nil {
		return
	}
	p.seen = true
	if wanted {
		p.now, p.live = b.Checkpoint, true
	}
}

// checkpoint compares, or begins here.
func (p *player) checkpoint(b *Block) {
	if !p.live {
		p.take(b, p.past >= p.from)
		return
	}
	if b.Strange != nil {
		return
	}
	p.seen = true
	if p.result.Exact {
		fields := unlike(nil, "", reflect.ValueOf(&b.Checkpoint).Elem(), reflect.ValueOf(&p.now).Elem())
		if len(fields) > 0 && p.result.Drift == nil {
			p.result.Drift = &Difference{Tick: p.past, At: p.mine.In.Now.String(), Fields: fields}
		}
	} else {
		p.now = b.Checkpoint
	}
	p.result.Checkpoints++
}

// mostFields bounds a list of differences.
const mostFields = 12

// unlike adds the leaves that differ, by name, between two plain values of the
// same type.
func unlike(all []Field, name string, was, now reflect.Value) []Field {
	switch {
	case len(all) >= mostFields:
	case was.Kind() == reflect.Struct:
		for i := range was.NumField() {
			all = unlike(all, strings.TrimPrefix(name+"."+was.Type().Field(i).Name, "."), was.Field(i), now.Field(i))
		}
	case was.Kind() == reflect.Array:
		for i := range was.Len() {
			all = unlike(all, fmt.Sprintf("%s[%d]", name, i), was.Index(i), now.Index(i))
		}
	case leaf(was) != leaf(now):
		all = append(all, Field{name, fmt.Sprint(was), fmt.Sprint(now)})
	}
	return all
}

// tick runs one tick again.
func (p *player) tick(was *Tick) {
	var f loop.Frame
	f.Number, f.Tick, f.Facts = was.Number, was.In, was.Facts
	p.now.State, f.Decision = p.core.Step(p.now.State, was.In)
	f.Facts.Wanted = f.Decision.Wanted
	if p.result.Interlock {
		p.now.Watch, f.Finding = p.checks.Step(p.now.Watch, loop.Checked(&f.Tick, &p.now.State, &f.Decision))
		if p.result.Exact {
			f.Facts.Finding = loop.RuleOf(f.Finding)
		}
	}
	f.Verdict.Permitted, f.Verdict.Cut, f.Verdict.Trip, f.Verdict.Since = was.Permitted, was.Cut, was.Trip, was.Since
	if p.result.Interlock {
		p.now.Guard, f.Verdict = p.r.Head.Limits.Step(p.now.Guard, f.Facts)
	}
	f.Permitted = f.Verdict.Permitted
	p.mine.take(&f)
	p.mine.LineFault = was.LineFault
	if fields := compare(was, &p.mine, p.result.Exact); len(fields) > 0 {
		p.result.Difference = &Difference{Tick: was.Number, At: was.In.Now.String(), Fields: fields}
		return
	}
	p.result.Ticks++
	f.State = &p.now.State
	p.judge(&f)
}

// judge holds the tick to what must always hold, whatever was decided.
func (p *player) judge(f *loop.Frame) {
	if !p.lawful {
		return
	}
	p.result.Judged++
	fact := f.Fact()
	if !p.result.Exact { // what was found then, not what another machine finds
		fact.Finding = ""
		if found := f.Facts.Finding; found != interlock.NoRule {
			fact.Finding = found.String()
		}
	}
	for _, b := range p.laws.Check(fact) {
		if len(p.result.Broken) < mostFields {
			p.result.Broken = append(p.result.Broken, b)
		}
	}
}

// compare lists what differs between two ticks of the same number.
func compare(was, now *Tick, exact bool) []Field {
	if exact && was.Hash == now.Hash && was.Facts.Finding == now.Facts.Finding && was.Permitted == now.Permitted && was.Cut == now.Cut && was.Trip == now.Trip && was.Since == now.Since {
		return nil
	}
	var d differences
	d.floats("duty", float64(was.Duty), float64(now.Duty), exact)
	d.floats("target_celsius", float64(was.Target), float64(now.Target), exact)
	d.floats("estimate_celsius", float64(was.Estimate), float64(now.Estimate), exact)
	d.words("wanted", was.Wanted, now.Wanted)
	d.words("permitted", was.Permitted, now.Permitted)
	d.words("pump", was.Pump, now.Pump)
	d.words("mode", was.Mode, now.Mode)
	d.words("reason", was.Reason, now.Reason)
	d.words("step", number8(was.Index), number8(now.Index))
	d.words("stage", was.Stage, now.Stage)
	d.words("prompt", was.Prompt, now.Prompt)
	d.words("earned", was.Earned, now.Earned)
	d.words("finding", was.Facts.Finding, now.Facts.Finding)
	d.words("cut", was.Cut, now.Cut)
	d.words("trip", was.Trip, now.Trip)
	d.words("since", was.Since, now.Since)
	d.words("events", eventList(was.Events), eventList(now.Events))
	if exact && len(d) == 0 {
		d = append(d, Field{"decision", fmt.Sprintf("hash %08x", was.Hash), fmt.Sprintf("hash %08x", now.Hash)})
	}
	return d
}

type differences []Field

func (d *differences) words(name string, was, now fmt.Stringer) {
	if w, n := was.String(), now.String(); w != n {
		*d = append(*d, Field{name, w, n})
	}
}

func (d *differences) floats(name string, was, now float64, exact bool) {
	differ := math.Float64bits(was) != math.Float64bits(now)
	if !exact {
		differ = math.Abs(was-now) > Tolerance || math.IsNaN(was) != math.IsNaN(now)
	}
	if differ {
		*d = append(*d, Field{name, fmt.Sprint(was), fmt.Sprint(now)})
	}
}

type number8 uint8

func (n number8) String() string { return fmt.Sprint(uint8(n)) }

// eventList is the kinds of events of one tick: their figures are floats, and
// compared by the hash.
type eventList []controller.Event

func (l eventList) String() string {
	var s []string
	for _, e := range l {
		s = append(s, e.Kind.String())
	}
	return strings.Join(s, ", ")
}
