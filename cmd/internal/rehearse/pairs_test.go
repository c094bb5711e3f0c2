package rehearse

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/loop"
	"mashward/sim/fault"
)

// second is what goes wrong beside a fault of the table.
type second struct {
	name   string
	script fault.Script // from its own moment on
	kills  bool         // the process, which is started anew
	row    *tableRow    // it is another fault of the table; nil: it is not
}

// seconders are the second events of all pairs; a second fault of the table comes
// for each row by chance.
func seconders() []second {
	of := func(k fault.Kind, lasting time.Duration) fault.Script {
		return fault.Script{struck(k, fault.Moment{}, lasting)}
	}
	return []second{
		{name: "killed and started anew", kills: true},
		{name: "clock step", script: of(fault.ClockStep, 0)},
		{name: "storage full", script: of(fault.StorageFull, 5*time.Minute)},
		{name: lateTick, script: of(fault.TickLate, 0)},
		{name: "a second fault"},
	}
}

const lateTick = "late tick"

// pair is one row with one second event.
type pair struct {
	row    *tableRow
	second second
	at     time.Duration // of the second event, from the fault on
}

func (p *pair) name() string {
	if p.second.row != nil {
		return p.row.id + " and " + p.second.row.id
	}
	return p.row.id + " and " + p.second.name
}

// both is a row with the faults of the two.
func (p *pair) both() tableRow {
	both := *p.row
	both.script = slices.Clone(p.row.script)
	more := p.second.script
	if p.second.row != nil {
		more = p.second.row.script
		both.lies = both.lies || p.second.row.lies
		both.below = max(both.below, p.second.row.below)
	}
	for _, f := range more {
		f.At.After += p.at
		both.script = append(both.script, f)
	}
	return both
}

// rows are the faults of the table in the pair.
func (p *pair) rows() []*tableRow {
	if p.second.row != nil {
		return []*tableRow{p.row, p.second.row}
	}
	return []*tableRow{p.row}
}

// grave tells whether one of the faults ends heat for good, and by when: twice the
// time it has alone, since the checks begin anew with a new process and after a
// late tick, and two minutes. A new process has not seen a probe leave the wort: to
// it that is power without heat, as a dead element in a rest.
func (p *pair) grave() (deadline time.Duration, is bool) {
	blind := time.Duration(0)
	for _, r := range p.rows() {
		if r.blinds > 0 {
			blind = r.lasting() + r.blinds
		}
		if r.once && p.forgets() {
			continue
		}
		deadline = max(deadline, r.hidden)
		if r.expect == tripping || r.latches > 0 {
			is, deadline = true, max(deadline, 2*max(r.within, r.latches)+2*time.Minute)
			if r.counts != "" {
				deadline = max(deadline, 2*time.Hour)
			}
		}
	}
	if p.second.kills {
		deadline = max(deadline, 12*time.Minute)
	}
	return deadline + blind, is
}

// joined tells of two passing disturbances of the probe, or one and a late tick: one
// after the other they may take longer than a cut lasts, and mislead the checks,
// which begin anew in the middle. A trip is then right, and a person goes on.
func (p *pair) joined() bool {
	cut := func(r *tableRow) bool { return r.expect == cuts || len(r.may) > 0 }
	return cut(p.row) && (p.second.name == lateTick || p.second.row != nil && cut(p.second.row))
}

// forgets tells that the checks begin anew after the second event.
func (p *pair) forgets() bool { return p.second.kills || p.second.name == lateTick }

// play runs the pair from a moment on and tells what is not as it must be.
func (p *pair) play(k proven, i *instant) []string {
	both := p.both()
	o := k.begin(i, &both, ourselves)
	var u outcome
	if err := o.recorded(); err != nil {
		return []string{err.Error()}
	}
	o.until(p.at, never)
	if p.second.kills {
		o.begunAnew(&u)
	}
	deadline, grave := p.grave()
	switch {
	case o.loop.State.Mode == controller.Offered: // it may not go on, and stays cold
		o.stays(&u, 10*time.Minute)
	case p.row.once && p.forgets(): // nobody sees it any more
		o.until(30*time.Minute, never)
	case grave:
		if !o.until(deadline, func(f *loop.Frame) bool { return f.Verdict.Trip != interlock.NoRule }) {
			u.fail("no trip within %v; seen: %v", deadline, o.seen())
		}
		o.stays(&u, time.Minute)
	default:
		o.until(both.lasting(), never)
		err := o.onCourse(4 * time.Hour)
		if err != nil && p.joined() && o.loop.Latest().Verdict.Trip != interlock.NoRule {
			o.mend()
			if err = o.helped(); err == nil {
				err = o.onCourse(4 * time.Hour)
			}
		}
		if err != nil {
			u.fail("%v; seen: %v", err, o.seen())
		}
	}
	if _, _, err := o.reread(); err != nil {
		u.fail("%v", err)
	}
	return append(u.wrong, o.oracle.broken...)
}

// begunAnew kills the process and starts another a minute later. A person takes
// the batch up after half a minute, unless a trip stands.
func (o *ordeal) begunAnew(u *outcome) {
	if err := o.restart(time.Minute, false); err != nil {
		u.fail("%v", err)
		return
	}
	o.stays(u, 30*time.Second)
	if o.loop.Latest().Verdict.Trip != interlock.NoRule {
		return
	}
	o.press(controller.TakeUp)
	bare := o.level() <= o.loop.Core.Config.CoveredAt // with that little it may not go on
	if f := o.second(); f.Decision.Mode != controller.Running && f.Verdict.Trip == interlock.NoRule && !bare {
		u.fail("it is %v after a person's word", f.Decision.Mode)
	}
}

// paired tells whether a row has pairs: a fault of probe, relay or kettle in a
// batch that runs. What nobody can see alone, nobody sees in company.
func (r *tableRow) paired() bool {
	return r.simulated() && strings.ContainsAny(r.id[:1], "ABC") && r.expect != unseen && r.id != "A15b" && r.expect != isHeld && r.expect != alarms && places[r.where] != nil
}

// beside is another row that can strike in the same place; nil if there is none.
func (r *tableRow) beside(rows []tableRow, draw *rand.Rand) *tableRow {
	var all []*tableRow
	for i := range rows {
		if x := &rows[i]; x.paired() && x.where == r.where && x.special == "" && x.id != r.id && len(x.on) == 0 {
			all = append(all, x)
		}
	}
	if len(all) == 0 {
		return nil
	}
	return all[draw.IntN(len(all))]
}

// draw is the pair of a row, an event and a seed: another moment, kettle and, for
// a second fault, row with each seed.
func (r *tableRow) draw(rows []tableRow, s second, all []proven, seed uint64) (*pair, proven, *instant) {
	draw := rand.New(rand.NewPCG(seed, uint64(r.line)))
	for range 50 {
		p := &pair{row: r, second: s}
		if s.script == nil && !s.kills {
			if p.second.row = r.beside(rows, draw); p.second.row == nil {
				return nil, proven{}, nil
			}
		}
		most := min(max(r.within, r.latches, time.Minute)*3/2, 10*time.Minute)
		p.at = time.Duration(draw.IntN(int(most.Seconds()))) * time.Second
		k := all[draw.IntN(len(all))]
		if i := r.suits(k, draw); i != nil {
			return p, k, i
		}
	}
	return nil, proven{}, nil
}

// TestPairsOfFaults runs each fault of probe, relay and kettle with a second event
// at a random moment: nothing happens that may never be, the graver of the two has
// its reaction, and the record opens and replays.
func TestPairsOfFaults(t *testing.T) {
	n, seeds := 6, uint64(2)
	if *night {
		n, seeds = 40, 50
	}
	rows, all := theTable(t), theKettles(t, n)
	var mu sync.Mutex
	counts := map[string]int{}
	for i := range rows {
		row := &rows[i]
		if !row.paired() {
			continue
		}
		events := seconders()
		spreadOver(len(events)*int(seeds), func(x uint64) {
			event := events[x%uint64(len(events))]
			p, k, moment := row.draw(rows, event, all, x)
			if p == nil {
				return
			}
			wrong := p.play(k, moment)
			mu.Lock()
			defer mu.Unlock()
			counts[event.name]++
			for _, w := range wrong {
				t.Errorf("%s, %v later, %s (seed %d): %s", p.name(), p.at, k.name, x, w)
			}
		})
	}
	total := 0
	for _, event := range seconders() {
		total += counts[event.name]
		t.Logf("%s: %d pairs run", event.name, counts[event.name])
	}
	t.Logf("%d in all; 95 %%: at most %.2g of all if none is wrong", total, 3/float64(cmp.Or(total, 1)))
	if total < 100 {
		t.Error(fmt.Sprint(total), "pairs are no campaign")
	}
}
