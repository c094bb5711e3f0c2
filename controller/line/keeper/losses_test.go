package keeper

import (
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"mashward/controller/line"
	"mashward/controller/unit"
)

// asked holds a line as the loop does, heat in each second, for a while.
func asked(l *line.Leased, seconds int) {
	for range seconds {
		_ = l.Hold(unit.On, line.MaxLease)
		pass(time.Second)
	}
}

// A driver that dies of each switching on would pulse the relay once a second.
func TestALineWhoseDriverDiesAtEachOnIsGivenUpUntilAPersonHasLooked(t *testing.T) {
	kept(t, func(t *testing.T, r *Remote, h *house) {
		l := line.Lease(r)
		synctest.Wait()
		h.relay.dies = func() { h.newest().Kill() }
		asked(l, 120)
		if h.relay.ons != mostLost || len(h.born) != 1+mostLost || !r.GaveUp() {
			t.Errorf("in two minutes it was switched on %d times by %d keepers; given up: %v; want %d times and then no more", h.relay.ons, len(h.born), r.GaveUp(), mostLost)
		}
		h.relay.want(t, unit.Off, "once it is given up")
		if relay, sure := l.Applied(); relay != unit.Off || !sure {
			t.Errorf("it counts as %v, %v; want off, true", relay, sure)
		}
		if err := l.Hold(unit.On, line.MaxLease); !errors.Is(err, ErrGaveUp) {
			t.Errorf("heat is refused with %v", err)
		}
		must(t, l.Hold(unit.Off, line.MaxLease))
		pass(24 * time.Hour)
		if !r.GaveUp() {
			t.Error("time alone lets it be tried again")
		}
		h.relay.dies = nil
		r.TryAgain()
		must(t, r.Set(unit.Off))
		must(t, l.Hold(unit.On, line.MaxLease))
		h.relay.want(t, unit.On, "when a person has looked and the driver is mended")
		must(t, l.Close())
	})
}

// Deaths that are rare are no reason to end a brew day.
func TestKeepersThatAreLostNowAndThenAreReplaced(t *testing.T) {
	for every, gives := range map[time.Duration]bool{lostWithin/2 + time.Second: false, lostWithin / 2: true} {
		kept(t, func(t *testing.T, r *Remote, h *house) {
			for range 6 {
				h.newest().Kill()
				pass(every)
			}
			if r.GaveUp() != gives {
				t.Errorf("one keeper lost each %v: given up %v, want %v", every, r.GaveUp(), gives)
			}
		})
	}
}

// A keeper that cannot be started is one that was lost, however often it is tried.
func TestAKeeperThatCannotBeStartedIsOneLoss(t *testing.T) {
	kept(t, func(t *testing.T, r *Remote, h *house) {
		l := line.Lease(r)
		synctest.Wait()
		h.barren.Store(true)
		h.newest().Kill()
		asked(l, 30)
		h.barren.Store(false)
		pass(2 * startPause)
		if r.GaveUp() || h.failed.Load() < 10 {
			t.Errorf("given up %v after %d tries", r.GaveUp(), h.failed.Load())
		}
		must(t, l.Close())
	})
}
