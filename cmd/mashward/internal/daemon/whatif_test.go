package daemon

import (
	"context"
	"errors"
	"sync/atomic"
	"testing"
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/controller"
)

var longer = controller.Command{Wish: controller.Extend, By: 10 * time.Minute}

// A batch of which much is asked goes the very way of one that is left alone.
func TestABatchHearsNothingOfWhatIsAskedOfIt(t *testing.T) {
	var courses [2][]controller.Decision
	for i := range courses {
		inBubble(t, func(b *bench) {
			b.run("warm")
			for n := 0; b.d.Latest().Decision.Mode == controller.Running; n++ {
				if i == 1 {
					for _, c := range []controller.Command{
						longer, {Wish: controller.Skip}, {Wish: controller.Retarget, At: 19}, {Wish: controller.Added, Volume: 3, At: 60},
					} {
						if _, err := b.d.WhatIf(b.Context(), c); err != nil && !errors.Is(err, ahead.ErrNotRunning) {
							b.Error(c, err)
						}
					}
				}
				pass(7 * time.Second)
			}
			for _, f := range b.seen.frames() {
				if f.Decision.Mode != controller.Idle {
					courses[i] = append(courses[i], f.Decision)
				}
			}
		})
	}
	n := min(len(courses[0]), len(courses[1]))
	if n < 400 {
		t.Fatalf("%d ticks", n)
	}
	for i := range n {
		if courses[0][i] != courses[1][i] {
			t.Fatalf("tick %d: %+v\nand asked: %+v", i, courses[0][i], courses[1][i])
		}
	}
}

// What was foreseen and is then asked for in earnest comes; it needs a second step.
func TestWhatIsAskedForChangesNothingUntilItIsDone(t *testing.T) {
	inBubble(t, func(b *bench) {
		if _, err := b.d.WhatIf(b.Context(), longer); !errors.Is(err, ahead.ErrNotRunning) {
			b.Error(err)
		}
		b.run("warm")
		before := b.until("a forecast", (*Snapshot).foretold).Forecast.Finish.At
		out, err := b.d.WhatIf(b.Context(), longer)
		if err != nil || out.Refused != controller.NotRefused || out.Later != 10*time.Minute {
			b.Fatal(out.Refused, out.Later, err)
		}
		pass(2 * time.Minute)
		if now := b.d.Latest().Forecast.Finish.At; now > before+2*time.Minute {
			b.Errorf("the finish moved from %v to %v", before, now)
		}
		if r, err := b.d.Do(b.Context(), longer); err != nil || !r.Accepted {
			b.Fatal(r, err)
		}
		b.until("ten minutes later", func(s *Snapshot) bool { return s.Forecast != nil && s.Forecast.Finish.At > before+8*time.Minute })
	})
}

// One at a time; what takes too long or goes wrong is told, and holds up no tick.
func TestASecondQuestionIsRefusedWhileOneIsAtWork(t *testing.T) {
	var free chan struct{}
	var mode atomic.Int32
	const wrong, well = 1, 2
	inBubbleWith(t, func(o *Options) {
		free = make(chan struct{})
		o.WhatIf = func(at *ahead.Instant, c controller.Command) (ahead.Outlook, error) {
			switch mode.Load() {
			case wrong:
				panic("a bug in the question")
			case well:
			default:
				<-free
			}
			return at.WhatIf(c)
		}
	}, func(b *bench) {
		b.run("warm")
		from := len(b.seen.frames())
		first := make(chan error, 1)
		go func() {
			_, err := b.d.WhatIf(b.Context(), longer)
			first <- err
		}()
		pass(time.Second)
		if _, err := b.d.WhatIf(b.Context(), longer); !errors.Is(err, ErrAsking) {
			b.Error("the second:", err)
		}
		if err := <-first; !errors.Is(err, ErrTooSlow) {
			b.Error("the first:", err)
		}
		if _, err := b.d.WhatIf(b.Context(), longer); !errors.Is(err, ErrAsking) {
			b.Error("while the first is still at work:", err)
		}
		pass(10 * time.Second)
		if n := len(b.seen.frames()) - from; n < 11 {
			b.Errorf("%d ticks meanwhile", n)
		}
		close(free)
		pass(time.Second)
		if out, err := b.d.WhatIf(b.Context(), longer); err != nil || out.Later != 10*time.Minute {
			b.Error("after it:", err)
		}
		gone, cancel := context.WithCancel(b.Context())
		cancel()
		if _, err := b.d.WhatIf(gone, longer); err != nil && !errors.Is(err, ErrTooSlow) {
			b.Error("who went away:", err)
		}
		pass(time.Second)
		mode.Store(wrong)
		if _, err := b.d.WhatIf(b.Context(), longer); !errors.Is(err, errWhatIf) {
			b.Error("a panic:", err)
		}
		mode.Store(well)
		pass(time.Second)
		if _, err := b.d.WhatIf(b.Context(), longer); err != nil {
			b.Error("after a panic:", err)
		}
	})
}
