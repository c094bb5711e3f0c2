package record

import (
	"bytes"
	"context"
	"flag"
	"io"
	"math/rand/v2"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/profile"
)

var night = flag.Bool("night", false, "run the campaigns in full: power cut at every byte of every write, more than 100,000 points")

// earnedAtMost is what a power cut may cost.
const earnedAtMost = 5 * time.Second

// brief is a batch of some ten minutes in which nearly every second counts: the
// bed settles, three rests, ticks that jitter by milliseconds.
func brief(seed uint64) (*kept, Head) {
	head := toyHead()
	c := &head.Config
	c.Settle, c.Count = 40*time.Second, 5
	c.Steps = [profile.MaxSteps + 1]controller.Step{
		{Kind: profile.Strike, Target: 48},
		{Kind: profile.MashIn, Target: 47.2, For: 4 * time.Minute, Floor: 1},
		{Kind: profile.Rest, Target: 47.5, For: 2 * time.Minute, Floor: 1},
		{Kind: profile.Rest, Target: 48, For: 2 * time.Minute, Floor: 1},
		{Kind: profile.MashOut, Target: 48.5, For: time.Minute, Floor: 1},
	}
	day := newToy(seed)
	day.rough, day.wort, day.probe = true, 47.9, 47.9
	day.loop.Core.Config = *c
	k := &kept{guard: &day.loop.Guard}
	day.watch(k)
	return k, head
}

// truth is what was decided, and what a record of it may show.
type truth struct {
	*kept
	bytes []byte
	ticks map[int64]int   // where a block ends: how many ticks stand before
	worth []time.Duration // earned in all after so many ticks
	sums  []uint64        // found.sum after so many ticks
}

func newTruth(t *testing.T, k *kept, whole []byte) *truth {
	t.Helper()
	tr := &truth{kept: k, bytes: whole, ticks: map[int64]int{}, worth: earnings(k)}
	r := opened(t, &Memory{Bytes: whole})
	tr.ticks[r.offset] = 0
	tr.sums = append(tr.sums, 0)
	var f found
	for i := range k.frames {
		d := &k.frames[i]
		f.add(&Tick{Number: d.Number, Earned: d.Decision.Earned, Hash: hashPlain(&d.Decision)})
		tr.sums = append(tr.sums, f.sum)
	}
	for n := 0; ; {
		b, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if b.Kind == KindTick {
			n++
		}
		tr.ticks[r.offset] = n
	}
	return tr
}

// earnings is what has been earned in all after each tick. While the bed
// settles it is the time that will be counted back, which the state holds.
func earnings(k *kept) []time.Duration {
	all := make([]time.Duration, 1, len(k.frames)+1)
	before, index, last := time.Duration(0), uint8(0), time.Duration(0)
	for i := range k.states {
		s := &k.states[i]
		if s.Index != index {
			before, index = before+last, s.Index
		}
		last = s.Earned
		if s.Stage == controller.Settle || s.Stage == controller.Mix {
			last = s.Since
		}
		all = append(all, before+last)
	}
	return all
}

// written shows the batch to a recorder on the disk, on a clock of its own: the
// writer works while ticks go on. It returns what Close said.
func written(t *testing.T, k *kept, head Head, d *disk, storage Storage, takes func(opKind) time.Duration) error {
	var said error
	synctest.Test(t, func(t *testing.T) {
		var at atomic.Int64
		d.takes, d.decided = takes, func() int { return int(at.Load()) }
		*k.guard = interlock.Guard{}
		r, err := New(storage, head, controller.State{}, Options{Guard: k.guard})
		if err != nil {
			t.Fatal(err)
		}
		start := time.Now()
		for i := range k.frames {
			<-time.After(time.Until(start.Add(k.frames[i].Tick.Now)))
			at.Store(int64(i + 1))
			*k.guard = k.guards[i]
			k.show(r, i)
			if r.Lost() != 0 {
				t.Fatal("ticks were lost")
			}
		}
		said = r.Close(t.Context())
	})
	return said
}

// hurried is a card that takes its time, up to 0.95 s for a sync.
func hurried(seed uint64) func(opKind) time.Duration {
	random := rand.New(rand.NewPCG(seed, 1))
	return func(kind opKind) time.Duration {
		if kind == opSync {
			return time.Duration(20+random.IntN(930)) * time.Millisecond
		}
		return time.Duration(random.IntN(30)) * time.Millisecond
	}
}

// A card that needs up to 2 s for a sync costs what is decided meanwhile, and no
// more: 5 s, and what the ticks jitter by.
func TestACardThatNeedsTwoSecondsForASyncCostsThem(t *testing.T) {
	k, head := brief(1)
	tr := wholeRecord(t, k, head)
	d := newDisk()
	random := rand.New(rand.NewPCG(9, 1))
	slow := func(kind opKind) time.Duration {
		if kind == opSync {
			return time.Duration(1100+random.IntN(850)) * time.Millisecond
		}
		return time.Millisecond
	}
	if err := written(t, k, head, d, d, slow); err != nil {
		t.Fatal(err)
	}
	c := newCampaign(tr)
	c.unbound, c.sparse = true, true
	c.run(d)
	c.report(t)
	if limit := 5*time.Second + 10*time.Millisecond; c.worst > limit || c.worst < 4500*time.Millisecond {
		t.Errorf("%v of earned time lost, want 5 s and no more than %v", c.worst, limit)
	}
}

// wholeRecord is the record without any mishap.
func wholeRecord(t *testing.T, k *kept, head Head) *truth {
	t.Helper()
	var m Memory
	*k.guard = interlock.Guard{}
	r, err := New(&m, head, controller.State{}, Options{Direct: true, Guard: k.guard})
	if err != nil {
		t.Fatal(err)
	}
	for i := range k.frames {
		*k.guard = k.guards[i]
		k.show(r, i)
	}
	if err := r.Close(context.Background()); err != nil {
		t.Fatal(err)
	}
	return newTruth(t, k, m.Bytes)
}

// A power cut at any point of a batch costs at most 5 s of what it had earned,
// and the record opens: the goal.
func TestAPowerCutAtAnyPointLosesNothing(t *testing.T) {
	k, head := brief(1)
	tr := wholeRecord(t, k, head)
	d := newDisk()
	if err := written(t, k, head, d, d, hurried(3)); err != nil || !bytes.Equal(d.Bytes, tr.bytes) {
		t.Fatalf("%d bytes written, %d expected, %v", len(d.Bytes), len(tr.bytes), err)
	}
	c := newCampaign(tr)
	c.fine = *night
	c.run(d)
	c.report(t)
	least := 2500 / everyNth
	if *night {
		least = 100_000
	}
	if c.points < least || c.worst < time.Second {
		t.Errorf("%d points, and %v lost at worst: less than was to be tried", c.points, c.worst)
	}
}

// After a power cut the record is opened, mended and gone on with, as the same
// file; power fails again, also while it is being mended.
func TestARecordGoneOnWithSurvivesTheNextPowerCut(t *testing.T) {
	k, head := brief(1)
	tr := wholeRecord(t, k, head)
	d := newDisk()
	if err := written(t, k, head, d, d, hurried(3)); err != nil {
		t.Fatal(err)
	}
	moments, first := d.moments(), newCampaign(tr)
	random, all := rand.New(rand.NewPCG(8, 8)), newCampaign(tr)
	all.classes = map[string]int{}
	rounds := max(2, 12/everyNth)
	if *night {
		rounds = 400
	}
	for range rounds {
		m := &moments[20+random.IntN(len(moments)-30)]
		file := bytes.Clone(m.safe)
		for i := range m.open {
			file = first.anyFate(m)(i, file, &m.open[i])
		}
		second := goneOn(t, k, file, m.sure)
		all.points, all.faults = all.points+second.points, append(all.faults, second.faults...)
		for class, n := range second.classes {
			all.classes[class] += n
		}
		if second.worst > all.worst {
			all.worst, all.worstAt = second.worst, second.worstAt
		}
	}
	all.report(t)
}

// goneOn mends what a power cut has left, goes on for half a minute, and cuts
// the power at every point of that.
func goneOn(t *testing.T, k *kept, file []byte, sure int64) *campaign {
	t.Helper()
	f, err := honest(file)
	if err != nil || f.ticks == 0 {
		t.Fatal(f.ticks, err)
	}
	at := f.ticks
	d := foundDisk(file, sure, at)
	d.decided = func() int { return at }
	cut, err := mend(d, func(end io.Reader) error {
		lost, err := io.ReadAll(end)
		if !bytes.Equal(lost, file[f.upTo:]) {
			t.Errorf("%d bytes were kept of an end of %d", len(lost), int64(len(file))-f.upTo)
		}
		return err
	})
	if err != nil || cut != int64(len(file))-f.upTo {
		t.Fatalf("%d bytes cut of %d after %d: %v", cut, len(file), f.upTo, err)
	}
	*k.guard = f.last.Guard
	r, err := Continue(d, f.last.State, Options{Direct: true, Guard: k.guard})
	if err != nil {
		t.Fatal(err)
	}
	for i := f.ticks; i < min(f.ticks+30, len(k.frames)); i++ {
		at = i + 1
		*k.guard = k.guards[i]
		k.show(r, i)
	}
	if err := r.Close(context.Background()); err != nil {
		t.Fatal(err)
	}
	c := newCampaign(newTruth(t, k, d.Bytes))
	c.run(d)
	return c
}
