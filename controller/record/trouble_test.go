package record

import (
	"bytes"
	"context"
	"errors"
	"io"
	"math/rand/v2"
	"testing"
	"testing/synctest"
	"time"

	"mashward/controller"
	"mashward/controller/loop"
)

// card is storage that can be made to misbehave. What was not synced before a
// power cut is not there after it; a sync that fails forgets what it was to
// write, and the next one says that all is well.
type card struct {
	Memory
	safe  []byte                // what a power cut leaves
	fail  func(op string) error // asked before every operation; nil: all goes well
	tear  *rand.Rand            // how much of a failing append arrives
	block chan struct{}         // every operation waits for it
}

var errCard = errors.New("no space left")

func (c *card) ask(op string) error {
	if c.block != nil {
		<-c.block
	}
	if c.fail == nil {
		return nil
	}
	return c.fail(op)
}

func (c *card) Append(p []byte) error {
	if err := c.ask("append"); err != nil {
		if c.tear != nil {
			c.Memory.Append(p[:c.tear.IntN(len(p)+1)])
		}
		return err
	}
	return c.Memory.Append(p)
}

func (c *card) Sync() error {
	if err := c.ask("sync"); err != nil {
		for i := len(c.safe); i < len(c.Bytes); i++ {
			c.Bytes[i] = 0 // pages given up
		}
		return err
	}
	c.Memory.Sync()
	c.safe = bytes.Clone(c.Bytes)
	return nil
}

func (c *card) Truncate(n int64) error {
	if err := c.ask("truncate"); err != nil {
		return err
	}
	c.safe = c.safe[:min(int64(len(c.safe)), n)]
	return c.Memory.Truncate(n)
}

// frames is a day's watch, to be shown to recorders again and again.
func frames(seed uint64, ticks int64, wishes map[int64]controller.Command) *kept {
	day := newToy(seed)
	day.ticks, day.wort, day.probe = ticks, 47, 47
	for n, w := range wishes {
		day.wishes[n] = w
	}
	k := &kept{guard: &day.loop.Guard}
	day.watch(k)
	return k
}

// show lets the recorder see frame i.
func (k *kept) show(r *Recorder, i int) {
	f := k.frames[i]
	f.State = &k.states[i]
	r.Watch(&f)
}

var _ loop.Watcher = (*Recorder)(nil)

// Storage that never answers must not hold up a single tick: this test would
// deadlock, and synctest say so, if Watch waited.
func TestStorageThatHangsForEverHoldsUpNoTick(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := frames(20, 12000, nil)
		c := &card{block: make(chan struct{})}
		r, err := New(c, toyHead(), controller.State{}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for i := range k.frames {
			k.show(r, i)
		}
		if lost := r.Lost(); lost == 0 || lost > uint64(len(k.frames)-3000) {
			t.Errorf("%d of %d ticks lost with storage that takes none: the buffer should hold most of an hour and no more", lost, len(k.frames))
		}
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		if err := r.Close(ctx); !errors.Is(err, context.Canceled) {
			t.Errorf("closing gave %v", err)
		}
		close(c.block)
		synctest.Wait()
	})
}

// Storage that comes back gets the gap, with its count, and the record can be
// replayed before and after it.
func TestAGapIsCountedAndSaid(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := frames(21, 14000, nil)
		c := &card{block: make(chan struct{})}
		r, err := New(c, toyHead(), controller.State{}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for i := range 12000 {
			k.show(r, i)
		}
		lost := r.Lost()
		close(c.block)
		synctest.Wait()
		for i := 12000; i < len(k.frames); i++ {
			k.show(r, i)
			synctest.Wait()
		}
		if err := r.Close(t.Context()); err != nil || r.Lost() != lost || lost == 0 {
			t.Fatalf("%v, %d lost, then %d", err, lost, r.Lost())
		}
		summary, err := Summarize(opened(t, c))
		if err != nil || summary.Lost != lost || summary.Ticks+lost != uint64(len(k.frames)) || summary.Damage != nil {
			t.Errorf("%d ticks, %d lost of %d and %d, %v", summary.Ticks, summary.Lost, lost, len(k.frames), err)
		}
		for _, from := range []uint64{0, 11999} {
			result, err := ReplayFrom(opened(t, c), from)
			if err != nil || !result.Same() || !result.Known || result.Last.State != k.states[len(k.states)-1] {
				t.Errorf("from %d: %+v, %v", from, result.Difference, err)
			}
		}
	})
}

// Whatever single operation fails, torn appends and forgetful syncs included,
// the record is in the end as it would have been.
func TestAfterAnyOneFailureTheRecordIsWhole(t *testing.T) {
	k := frames(22, 150, map[int64]controller.Command{60: {Wish: controller.Pause}, 70: {Wish: controller.Resume}})
	write := func(c *card) error {
		r, err := New(c, toyHead(), controller.State{}, Options{Direct: true})
		if err != nil {
			return err
		}
		for i := range k.frames {
			k.show(r, i)
		}
		return r.Close(context.Background())
	}
	count := 0
	good := &card{fail: func(string) error { count++; return nil }}
	if err := write(good); err != nil {
		t.Fatal(err)
	}
	first := 2 // head and start: New itself says that storage fails
	for n := first + 1; n < count; n++ {
		for _, length := range []int{1, 3} {
			at := 0
			bad := &card{tear: rand.New(rand.NewPCG(uint64(n), 1)), fail: func(string) error {
				if at++; at >= n && at < n+length {
					return errCard
				}
				return nil
			}}
			err := write(bad)
			// The last flush is that of Close, which has no later try.
			lastFlush := n+length > count-2
			if whole := bytes.Equal(bad.safe, good.safe); err != nil && !lastFlush || err == nil && !whole {
				t.Errorf("operation %d failed %d times: %d bytes of %d survive, %v", n, length, len(bad.safe), len(good.safe), err)
			}
		}
	}
}

func TestAFailureIsSaidUntilASyncHasSucceeded(t *testing.T) {
	k := frames(23, 200, nil)
	down := false
	c := &card{fail: func(string) error {
		if down {
			return errCard
		}
		return nil
	}}
	r, err := New(c, toyHead(), controller.State{}, Options{Direct: true})
	if err != nil {
		t.Fatal(err)
	}
	for i := range k.frames {
		down = i >= 80 && i < 150
		k.show(r, i)
		if i == 79 && r.Err() != nil {
			t.Error(r.Err())
		}
		if i == 149 && !errors.Is(r.Err(), errCard) {
			t.Errorf("after 70 s without storage: %v", r.Err())
		}
		if i == 156 && r.Err() != nil {
			t.Errorf("7 s after storage came back: %v", r.Err())
		}
	}
	if r.Lost() != 0 {
		t.Errorf("%d ticks lost, though the buffer was not full", r.Lost())
	}
}

// A power cut at any tick: of the last sync's bytes all, of the rest any part
// may be there. The record opens, and at most 5 s of earned time are missing.
func TestAPowerCutCostsAtMostFiveSecondsOfEarnedTime(t *testing.T) {
	k := frames(24, 1900, nil)
	c := new(card)
	r, err := New(c, toyHead(), controller.State{}, Options{Direct: true})
	if err != nil {
		t.Fatal(err)
	}
	random, worst, earning := rand.New(rand.NewPCG(1, 2)), time.Duration(0), 0
	for i := range k.frames {
		k.show(r, i)
		if i%31 != 0 && (i < len(k.frames)-700 || i%7 != 0) {
			continue
		}
		extra := len(c.Bytes) - len(c.safe)
		left := &Memory{Bytes: bytes.Clone(c.Bytes[:len(c.safe)+random.IntN(extra+1)])}
		if cut := random.IntN(extra + 1); len(c.safe)+cut < len(left.Bytes) {
			clear(left.Bytes[len(c.safe)+cut:]) // lengthened, but not written
		}
		rd := opened(t, left)
		result, err := Replay(rd)
		if err != nil || !result.Same() || !result.Known {
			t.Fatalf("power cut after tick %d: %v, %v", i+1, result.Difference, err)
		}
		now := &k.states[i]
		if now.Index != result.Last.State.Index || now.Mode != result.Last.State.Mode {
			t.Fatalf("power cut after tick %d: step %d, not %d", i+1, result.Last.State.Index, now.Index)
		}
		if now.Earned > 0 {
			earning++
			worst = max(worst, now.Earned-result.Last.State.Earned)
		}
	}
	if worst > 5*time.Second || earning < 50 {
		t.Errorf("%v of earned time lost at worst, in %d cuts while a clock ran", worst, earning)
	}
}

func TestSyncsAreRareAndNoneIsMadeWhenIdle(t *testing.T) {
	day := newToy(25)
	day.wishes = map[int64]controller.Command{3000: {Wish: controller.Start}}
	k := &kept{guard: &day.loop.Guard}
	day.watch(k)
	c := new(card)
	r, err := New(c, toyHead(), controller.State{}, Options{Direct: true})
	if err != nil {
		t.Fatal(err)
	}
	matters, last := 0, 0
	for i := range k.frames {
		before := c.Syncs
		k.show(r, i)
		d := &k.frames[i].Decision
		if c.Syncs > before {
			if i-last < 4 {
				matters++
			}
			last = i
		}
		if i == 2990 && c.Syncs != 1 {
			t.Errorf("%d syncs in 2990 s of idleness, after the one of the head", c.Syncs-1)
		}
		if d.Mode == controller.Running && i-last > 30 {
			t.Fatalf("tick %d: no sync for %d s while running", i+1, i-last)
		}
	}
	if matters > 40 {
		t.Errorf("%d syncs came before the 4 s were up: more than what happened", matters)
	}
	if most := len(k.frames) / 4; c.Syncs > most {
		t.Errorf("%d syncs in %d s", c.Syncs, len(k.frames))
	}
	t.Logf("%d syncs in a day of %v", c.Syncs, time.Duration(len(k.frames))*time.Second)
}

// With the writer's goroutine the bytes are the same as without it.
func TestTheGoroutineWritesTheSameBytes(t *testing.T) {
	k := frames(26, 3000, nil)
	var direct Memory
	var behind card
	synctest.Test(t, func(t *testing.T) {
		for _, s := range []struct {
			to Storage
			o  Options
		}{{&direct, Options{Direct: true}}, {&behind, Options{}}} {
			r, err := New(s.to, toyHead(), controller.State{}, s.o)
			if err != nil {
				t.Fatal(err)
			}
			for i := range k.frames {
				k.show(r, i)
			}
			r.Note("said by the shell")
			r.End()
			if err := r.Close(t.Context()); err != nil {
				t.Fatal(err)
			}
			if err := r.Close(t.Context()); err == nil {
				t.Error("closed twice")
			}
		}
	})
	if !bytes.Equal(direct.Bytes, behind.safe) {
		t.Errorf("%d bytes directly, %d behind", len(direct.Bytes), len(behind.safe))
	}
	blocks, _, err := tell(opened(t, &direct))
	if n := len(blocks); err != io.EOF || blocks[n-1].kind != KindEnd || blocks[n-2] != (told{KindNote, "said by the shell"}) {
		t.Errorf("the end is %v, %v", blocks[n-2:], err)
	}
}
