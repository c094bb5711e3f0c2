package daemon

import (
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/record"
	"mashward/controller/unit"
)

// card is storage that refuses, or does not answer, while it is told to.
type card struct {
	record.Memory
	full   atomic.Bool  // no room
	broken atomic.Bool  // neither writes nor syncs
	sealed atomic.Bool  // became read-only
	slow   atomic.Int64 // the next sync takes so long
	closed atomic.Bool
}

func (c *card) Append(p []byte) error {
	switch {
	case c.sealed.Load():
		return syscall.EROFS
	case c.broken.Load():
		return syscall.EIO
	case c.full.Load():
		_ = c.Memory.Append(p[:len(p)/2])
		return syscall.ENOSPC
	}
	return c.Memory.Append(p)
}

func (c *card) Sync() error {
	if d := c.slow.Swap(0); d > 0 {
		<-time.After(time.Duration(d))
	}
	if c.broken.Load() {
		return syscall.EIO
	}
	return c.Memory.Sync()
}

func (c *card) Truncate(n int64) error {
	if c.sealed.Load() {
		return syscall.EROFS
	}
	return c.Memory.Truncate(n)
}

func (c *card) Close() error {
	c.closed.Store(true)
	return nil
}

// trouble runs a batch whose storage misbehaves from one minute after its
// beginning for that long, and looks after both that it went on as if nothing
// were.
func trouble(t *testing.T, begin, end func(*card), lasts time.Duration, then func(*bench, *card)) {
	t.Helper()
	c := new(card)
	inBubbleWith(t, func(o *Options) {
		o.Storage = func(string) (record.Storage, error) { return c, nil }
	}, func(b *bench) {
		b.run("warm")
		pass(time.Minute)
		begin(c)
		from := time.Now()
		s := b.until("an alarm", func(s *Snapshot) bool { return s.Unstored != nil })
		if after := time.Since(from); after > time.Minute {
			b.Errorf("said after %v", after)
		}
		if s.Decision.Mode != controller.Running || s.Heating == unit.Off {
			b.Errorf("%v, heating %v", s.Decision.Mode, s.Heating)
		}
		pass(lasts - time.Since(from))
		end(c)
		then(b, c)
		frames := b.seen.frames()
		for i := 1; i < len(frames); i++ {
			if dt := frames[i].Tick.Now - frames[i-1].Tick.Now; dt != time.Second {
				b.Fatalf("a tick of %v, %v after the start", dt, frames[i].Tick.Now)
			}
		}
		if last := frames[len(frames)-1]; last.Decision.Mode != controller.Complete {
			b.Errorf("it ended %v", last.Decision.Mode)
		}
	})
}

// goesOn is a batch that is recorded again, whole, and says so.
func goesOn(b *bench, c *card) {
	b.until("no alarm", func(s *Snapshot) bool { return s.Unstored == nil })
	s := b.mode(controller.Complete)
	pass(time.Minute)
	told := 0
	for _, e := range s.Log {
		if strings.HasPrefix(e.Text, "Storage ") {
			told++
		}
	}
	if log := b.log.String(); told != 2 || !strings.Contains(log, "storage does not take the record") || !strings.Contains(log, "storage takes the record again") {
		b.Errorf("%d sentences, log:\n%s", told, log)
	}
	r, err := record.Read(c)
	if err != nil {
		b.Fatal(err)
	}
	result, err := record.Replay(r)
	if err != nil || !result.Same() || result.Skipped != 0 || result.Last.State.Mode != controller.Complete {
		b.Errorf("the record: %d ticks, %v, %v", result.Ticks, result.Difference, err)
	}
}

func TestABatchGoesOnWhileThereIsNoRoomForItsRecord(t *testing.T) {
	trouble(t, func(c *card) { c.full.Store(true) }, func(c *card) { c.full.Store(false) }, 3*time.Minute, goesOn)
}

func TestABatchGoesOnWhileStorageGivesErrors(t *testing.T) {
	trouble(t, func(c *card) { c.broken.Store(true) }, func(c *card) { c.broken.Store(false) }, 3*time.Minute, goesOn)
}

func TestABatchGoesOnWhileASyncTakesAMinute(t *testing.T) {
	trouble(t, func(c *card) { c.slow.Store(int64(time.Minute)) }, func(*card) {}, 2*time.Minute, goesOn)
}

// Storage that has become read-only stays so: the batch goes on to its end, and
// the log says that the record is not whole.
func TestABatchGoesOnWithStorageThatHasBecomeReadOnly(t *testing.T) {
	trouble(t, func(c *card) { c.sealed.Store(true) }, func(*card) {}, time.Minute, func(b *bench, c *card) {
		s := b.mode(controller.Complete)
		pass(time.Minute)
		if log := b.log.String(); !strings.Contains(log, "level=ERROR msg=record") || !strings.Contains(log, "read-only") || !c.closed.Load() {
			b.Errorf("log:\n%s", log)
		}
		if text := s.Log[len(s.Log)-1].Text; strings.HasPrefix(text, "Storage takes") {
			b.Error(text)
		}
		r, err := record.Read(c)
		if err != nil {
			b.Fatal(err)
		}
		if sum, err := record.Summarize(r); err != nil || sum.Damage != nil || sum.Ticks < 50 {
			b.Errorf("what was stored before: %d ticks, %v, %v", sum.Ticks, sum.Damage, err)
		}
	})
}

// A batch without a record says so for as long as it runs.
func TestABatchThatCannotBeRecordedSaysSo(t *testing.T) {
	inBubbleWith(t, func(o *Options) {
		o.Storage = func(string) (record.Storage, error) { return nil, syscall.EACCES }
	}, func(b *bench) {
		b.run("warm")
		if s := b.d.Latest(); s.Unstored == nil || s.Log[0].Text != "This batch is not recorded: permission denied." {
			b.Errorf("%v, %v", s.Unstored, s.Log)
		}
		b.mode(controller.Complete)
	})
}
