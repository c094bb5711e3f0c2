package record

import (
	"bytes"
	"errors"
	"math/rand/v2"
	"sync/atomic"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
)

// Every nth append finds no room, for every n, and leaves a part behind: what
// is in the end on storage is the record as it would have been, and nobody
// waited.
func TestNoRoomAtEveryNthWriteLosesNothing(t *testing.T) {
	k := frames(31, 900, nil)
	whole := wholeRecord(t, k, toyHead()).bytes
	for n := 2; n <= 40; n++ {
		synctest.Test(t, func(t *testing.T) {
			count := 0
			c := &card{tear: rand.New(rand.NewPCG(uint64(n), 3)), fail: func(op string) error {
				if op != "append" {
					return nil
				}
				if count++; count%n == 0 {
					return syscall.ENOSPC
				}
				return nil
			}}
			r := beginOn(t, c, k)
			k.showAll(t, r)
			// The last append may be one of those that fail; there is no later one.
			if err := r.Close(t.Context()); err == nil && !bytes.Equal(c.safe, whole) || err != nil && !bytes.HasPrefix(whole, c.safe) {
				t.Errorf("every %d.: %d bytes of %d are safe, %v", n, len(c.safe), len(whole), err)
			}
			if failed := count / n; failed < 2 {
				t.Errorf("every %d.: only %d failed", n, failed)
			}
		})
	}
}

// beginOn begins a record with the writer's goroutine.
func beginOn(t *testing.T, s Storage, k *kept) *Recorder {
	t.Helper()
	*k.guard = interlock.Guard{}
	r, err := New(s, toyHead(), controller.State{}, Options{Guard: k.guard})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// showAll shows the whole batch; the writer may work between two ticks.
func (k *kept) showAll(t *testing.T, r *Recorder) {
	t.Helper()
	for i := range k.frames {
		*k.guard = k.guards[i]
		k.show(r, i)
		synctest.Wait()
	}
}

// A sync that fails gives its pages up, and the next one says that all is well:
// what was not stored must not be believed. The first that succeeds after it
// has to have everything, written again.
func TestASyncThatSucceedsAfterOneThatFailedIsNotBelieved(t *testing.T) {
	k := frames(32, 900, nil)
	whole := wholeRecord(t, k, toyHead()).bytes
	for n := 2; n <= 12; n++ {
		synctest.Test(t, func(t *testing.T) {
			count := 0
			c := new(card)
			c.fail = func(op string) error {
				if op != "sync" {
					return nil
				}
				if count++; count%n == 0 {
					return syscall.EIO
				}
				return nil
			}
			r := beginOn(t, c, k)
			for i := range k.frames {
				*k.guard = k.guards[i]
				k.show(r, i)
				synctest.Wait()
				if r.Err() == nil && !bytes.HasPrefix(whole, c.safe) {
					t.Fatalf("every %d.: after tick %d all is said to be well, and what is safe is not what was written", n, i+1)
				}
			}
			if err := r.Close(t.Context()); err == nil && !bytes.Equal(c.safe, whole) {
				t.Errorf("every %d.: %d bytes of %d are safe", n, len(c.safe), len(whole))
			}
			if failed := count / n; failed < 5 {
				t.Errorf("every %d.: only %d failed", n, failed)
			}
		})
	}
}

// What was written long ago and never synced, as in a batch that is held, has
// to be there after a failed sync too.
func TestAFailedSyncAfterHoursWithoutOneForgetsNothing(t *testing.T) {
	k := frames(33, 9000, map[int64]controller.Command{100: {Wish: controller.Stop}, 8900: {Wish: controller.Resume}})
	synctest.Test(t, func(t *testing.T) {
		c := new(card)
		r, failed := beginOn(t, c, k), 0
		for i := range k.frames {
			if k.frames[i].Tick.Command.Wish == controller.Resume {
				if open := len(c.Bytes) - len(c.safe); open < 64<<10 {
					t.Fatalf("only %d bytes are open", open)
				}
				c.fail = func(op string) error {
					if op != "sync" {
						return nil
					}
					failed++
					if failed == 1 {
						return syscall.EIO
					}
					return nil
				}
			}
			*k.guard = k.guards[i]
			k.show(r, i)
			synctest.Wait()
		}
		if err := r.Close(t.Context()); err != nil || failed == 0 || !bytes.Equal(c.safe, wholeRecord(t, k, toyHead()).bytes) {
			t.Errorf("%d bytes are safe, %d syncs from the failed one on, %v", len(c.safe), failed, err)
		}
	})
}

// For a day nothing can be written: what waits is bounded, it is said, and when
// there is room again the record goes on with what was kept and a gap.
func TestADayWithoutRoomIsBoundedSaidAndGoneOnAfter(t *testing.T) {
	for name, err := range map[string]error{"no room": syscall.ENOSPC, "read-only": syscall.EROFS, "error": syscall.EIO} {
		synctest.Test(t, func(t *testing.T) {
			k := frames(34, 20000, nil)
			c := new(card)
			r := beginOn(t, c, k)
			most := 0
			for i := range k.frames {
				switch i {
				case 200:
					c.fail = func(string) error { return err }
				case len(k.frames) - 1000:
					c.fail = nil
				}
				*k.guard = k.guards[i]
				k.show(r, i)
				synctest.Wait()
				most = max(most, cap(r.fill)+cap(r.sink.pending))
				if said := r.Err(); i == 260 && !errors.Is(said, err) {
					t.Errorf("%s: after a minute: %v", name, said)
				}
			}
			if limit := 2 * (BufferSize + room); most > limit {
				t.Errorf("%s: %d bytes in memory, more than %d", name, most, limit)
			}
			lost := r.Lost()
			if err := r.Close(t.Context()); err != nil || lost == 0 {
				t.Fatalf("%s: %v, %d ticks lost", name, err, lost)
			}
			s, err := Summarize(opened(t, &Memory{Bytes: c.safe}))
			if err != nil || s.Damage != nil || s.Torn != 0 || s.Lost != lost || s.Ticks+lost != uint64(len(k.frames)) {
				t.Errorf("%s: %d ticks and %d lost of %d, %v, %v", name, s.Ticks, s.Lost, len(k.frames), s.Damage, err)
			}
			result, err := ReplayFrom(opened(t, &Memory{Bytes: c.safe}), uint64(len(k.frames)-1000))
			if err != nil || !result.Same() || !result.Known || result.Last.State != k.states[len(k.states)-1] {
				t.Errorf("%s: replay after the gap: %v, %v", name, result.Difference, err)
			}
		})
	}
}

// A sync that takes a minute holds up no tick, is said after ten seconds, and
// is said no more once it is over.
func TestASyncThatTakesAMinuteIsSaid(t *testing.T) {
	k := frames(35, 900, nil)
	synctest.Test(t, func(t *testing.T) {
		d := newDisk()
		said, over := int64(-1), int64(-1)
		var at, from atomic.Int64
		d.takes = func(kind opKind) time.Duration {
			if kind == opSync && at.Load() > 300 && from.CompareAndSwap(0, at.Load()) {
				return time.Minute
			}
			return time.Millisecond
		}
		r := beginOn(t, d, k)
		start := time.Now()
		for i := range k.frames {
			<-time.After(time.Until(start.Add(k.frames[i].Tick.Now)))
			at.Store(int64(i))
			*k.guard = k.guards[i]
			before := time.Now()
			k.show(r, i)
			if took := time.Since(before); took > 0 {
				t.Fatalf("tick %d took %v", i+1, took)
			}
			switch err := r.Err(); {
			case err != nil && said < 0:
				said = int64(i)
			case err == nil && said >= 0 && over < 0:
				over = int64(i)
			}
		}
		if err := r.Close(t.Context()); err != nil || r.Lost() != 0 {
			t.Fatal(err, r.Lost())
		}
		if began := from.Load(); said-began < 10 || said-began > 15 || over-began < 60 || over-began > 62 {
			t.Errorf("the sync began at %d s, was said at %d s until %d s", began, said, over)
		}
		if !bytes.Equal(d.Bytes, wholeRecord(t, k, toyHead()).bytes) {
			t.Error("the record is another")
		}
	})
}

// TestASimulatedKettleMakesNoDiskSlow: a kettle at a thousandfold speed goes on by
// fifty seconds while a disk takes fifty milliseconds. Who knows of the speed does
// not call that a stall; who does not, would.
func TestASimulatedKettleMakesNoDiskSlow(t *testing.T) {
	const fast = 1000
	for pace, stalls := range map[float64]bool{fast: false, 0: true} {
		k := frames(35, 900, nil)
		synctest.Test(t, func(t *testing.T) {
			d := newDisk()
			d.takes = func(kind opKind) time.Duration {
				if kind == opSync {
					return 50 * time.Millisecond
				}
				return 0
			}
			*k.guard = interlock.Guard{}
			r, err := New(d, toyHead(), controller.State{}, Options{Guard: k.guard, Pace: pace})
			if err != nil {
				t.Fatal(err)
			}
			said := false
			for i := range k.frames {
				*k.guard = k.guards[i]
				k.show(r, i)
				<-time.After(time.Second / fast)
				said = said || r.Err() != nil
			}
			if err := r.Close(t.Context()); err != nil {
				t.Fatal(err)
			}
			if said != stalls {
				t.Errorf("at pace %.0f a stall was said: %v", pace, said)
			}
		})
	}
}
