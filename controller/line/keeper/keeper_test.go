package keeper

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"mashward/controller/line"
	"mashward/controller/unit"
)

var _ line.Driver = (*Remote)(nil)

func TestHeatEndsThreeSecondsAfterTheLastRequest(t *testing.T) {
	kept(t, func(t *testing.T, r *Remote, h *house) {
		for range 20 {
			must(t, r.Set(unit.On))
			h.relay.want(t, unit.On, "while it is asked for")
			pass(time.Second)
		}
		pass(line.MaxLease - time.Second - 1)
		h.relay.want(t, unit.On, "just before 3 s")
		pass(1)
		h.relay.want(t, unit.Off, "3 s after the last request")
	})
}

// What the kernel does when the daemon has died, however it died.
func TestHeatEndsAtOnceWhenThePipeCloses(t *testing.T) {
	kept(t, func(t *testing.T, r *Remote, h *house) {
		must(t, r.Set(unit.On))
		h.born[0].in.Close()
		synctest.Wait()
		h.relay.want(t, unit.Off, "when the pipe has closed")
	})
}

// The daemon's own lease over the keeper's: both together behave as one.
func TestLeaseOverTheKeeperExpiresAndDrops(t *testing.T) {
	kept(t, func(t *testing.T, r *Remote, h *house) {
		l := line.Lease(r)
		synctest.Wait()
		must(t, l.Hold(unit.On, line.MaxLease))
		h.relay.want(t, unit.On, "when held")
		l.Drop()
		synctest.Wait()
		h.relay.want(t, unit.Off, "after Drop")
		l.Rearm()
		must(t, l.Hold(unit.On, 200*time.Millisecond))
		pass(200 * time.Millisecond)
		h.relay.want(t, unit.Off, "after a short lease")
		must(t, l.Close())
	})
}

// A daemon that was stopped for a minute goes on with what it had decided.
func TestHeatByAnOldDecisionIsRefused(t *testing.T) {
	kept(t, func(t *testing.T, r *Remote, h *house) {
		must(t, r.Set(unit.On))
		pass(line.MaxLease + time.Millisecond)
		for range 3 {
			err := r.Set(unit.On)
			if err != nil && !strings.Contains(err.Error(), ErrOld.Error()) {
				t.Errorf("the error is %v", err)
			}
			if err != nil {
				break
			}
			t.Error("heat was granted by a decision older than the lease")
		}
		h.relay.want(t, unit.Off, "after a refusal")
		must(t, r.Set(unit.Off))
		must(t, r.Set(unit.On))
		h.relay.want(t, unit.On, "by a new decision")
	})
}

func TestOffPassesAnOnThatIsStuckInTheDriver(t *testing.T) {
	kept(t, func(t *testing.T, r *Remote, h *house) {
		h.relay.stuck = make(chan struct{})
		began, result := time.Now(), make(chan error, 1)
		go func() { result <- r.Set(unit.On) }()
		synctest.Wait()
		h.relay.want(t, unit.On, "with On stuck")
		if err := r.Set(unit.Off); err == nil {
			t.Error("off was confirmed while On was stuck")
		}
		synctest.Wait()
		h.relay.want(t, unit.Off, "after off")
		if took := time.Since(began); took != 0 {
			t.Errorf("off took %v beside a stuck on", took)
		}
		if err := <-result; !errors.Is(err, ErrSilent) {
			t.Errorf("On ended with %v, want %v", err, ErrSilent)
		}
		close(h.relay.stuck)
		pass(time.Second)
		must(t, r.Set(unit.Off))
	})
}

// Requests are carried out beside each other; still none may overtake an off.
func TestNoRequestOvertakesAnOff(t *testing.T) {
	for round := range 200 {
		kept(t, func(t *testing.T, r *Remote, h *house) {
			c := h.born[0]
			for n := range round % 9 {
				fmt.Fprintf(c.in, "on %d 0\n", 1000+n)
			}
			fmt.Fprintf(c.in, "off 2000\n")
			synctest.Wait()
			h.relay.want(t, unit.Off, "after off came last")
		})
	}
}

func TestKeeperThatDiesIsReplacedAtOnceWithTheLineOff(t *testing.T) {
	kept(t, func(t *testing.T, r *Remote, h *house) {
		must(t, r.Set(unit.On))
		h.born[0].Kill()
		synctest.Wait()
		h.relay.want(t, unit.Off, "with another keeper")
		if len(h.born) != 2 || len(h.lost) != 2 || h.lost[0] == nil || h.lost[1] != nil {
			t.Errorf("%d keepers; told %v", len(h.born), h.lost)
		}
		must(t, r.Set(unit.On))
		h.relay.want(t, unit.On, "by the other keeper")
	})
}

// Heat waits for nothing: without a keeper there is none.
func TestOnStartsNoKeeper(t *testing.T) {
	kept(t, func(t *testing.T, r *Remote, h *house) {
		must(t, r.Set(unit.On))
		h.barren.Store(true)
		h.born[0].Kill()
		synctest.Wait()
		h.relay.want(t, unit.On, "with its keeper dead and no other to be had")
		h.barren.Store(false)
		if err := r.Set(unit.On); !errors.Is(err, ErrGone) || len(h.born) != 1 {
			t.Errorf("heat without a keeper: %v, %d keepers; want %v and no other one", err, len(h.born), ErrGone)
		}
		pass(startPause)
		must(t, r.Set(unit.Off))
		h.relay.want(t, unit.Off, "with another keeper")
	})
}

// A keeper that is stopped says nothing: it is ended and replaced.
func TestKeeperThatIsSilentIsReplaced(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := &house{relay: &relay{}}
		r, err := Start(h.start, h.note)
		must(t, err)
		must(t, r.Set(unit.On))
		h.newest().deaf.Store(true)
		began := time.Now()
		if err := r.Set(unit.On); !errors.Is(err, ErrSilent) {
			t.Errorf("on to a silent keeper: %v", err)
		}
		must(t, r.Set(unit.Off))
		h.relay.want(t, unit.Off, "after off")
		if took := time.Since(began); took != 2*answersWithin || len(h.born) != 2 {
			t.Errorf("off came after %v with %d keepers, want %v and 2", took, len(h.born), 2*answersWithin)
		}
		if !h.born[0].driver.isOff() {
			t.Error("the silent keeper was left to drive the line")
		}
		must(t, r.Close())
		pass(2 * givesUpAfter)
	})
}

func TestKeeperThatCannotBeStartedIsTriedOnceASecond(t *testing.T) {
	kept(t, func(t *testing.T, r *Remote, h *house) {
		l := line.Lease(r)
		synctest.Wait()
		must(t, l.Hold(unit.On, line.MaxLease))
		h.barren.Store(true)
		h.born[0].Kill()
		_ = l.Hold(unit.On, line.MaxLease)
		pass(10 * time.Second)
		if n := h.failed.Load(); n < 9 || n > 11 {
			t.Errorf("a keeper was tried for %d times in 10 s, want once a second", n)
		}
		if relay, sure := l.Applied(); sure || relay != unit.On {
			t.Errorf("without a keeper the line counts as %v, %v; want on, false", relay, sure)
		}
		if err := r.Set(unit.Off); err == nil {
			t.Error("off was confirmed without a keeper")
		}
		h.barren.Store(false)
		pass(startPause + 200*time.Millisecond)
		h.relay.want(t, unit.Off, "when a keeper can be started again")
		if relay, sure := l.Applied(); !sure || relay != unit.Off {
			t.Errorf("then the line counts as %v, %v; want off, true", relay, sure)
		}
		if len(h.lost) != 2 {
			t.Errorf("told %v, want the loss once and the end of it", h.lost)
		}
		must(t, l.Close())
	})
}

func TestDriverThatFailsIsToldAndOffIsRepeated(t *testing.T) {
	kept(t, func(t *testing.T, r *Remote, h *house) {
		must(t, r.Set(unit.On))
		h.relay.failNext(5)
		if err := r.Set(unit.Off); err == nil || !strings.Contains(err.Error(), errWire.Error()) {
			t.Errorf("off with a driver that fails: %v", err)
		}
		h.relay.want(t, unit.On, "while the driver fails")
		pass(time.Second)
		h.relay.want(t, unit.Off, "when it works again, without another request")
		h.relay.failNext(1)
		if err := r.Set(unit.On); err == nil {
			t.Error("on with a driver that fails was confirmed")
		}
		if len(h.born) != 1 {
			t.Errorf("%d keepers: a driver's error is no reason for another", len(h.born))
		}
	})
}

// A relay on USB that was pulled and plugged in again is another device: the
// keeper that had the old one open can only fail.
func TestDeviceThatWasLostIsOpenedAnew(t *testing.T) {
	kept(t, func(t *testing.T, r *Remote, h *house) {
		l := line.Lease(r)
		synctest.Wait()
		must(t, l.Hold(unit.On, line.MaxLease))
		h.born[0].driver.cut()
		if err := l.Hold(unit.On, line.MaxLease); !errors.Is(err, line.ErrUnknown) {
			t.Errorf("with its device gone Hold says %v", err)
		}
		pass(2 * time.Second)
		h.relay.want(t, unit.Off, "when it was opened anew")
		if relay, sure := l.Applied(); !sure || relay != unit.Off || len(h.born) != 2 {
			t.Errorf("the line counts as %v, %v with %d keepers; want off, true and 2", relay, sure, len(h.born))
		}
		must(t, l.Hold(unit.On, line.MaxLease))
		must(t, l.Close())
	})
}

// A daemon that is gone cannot ask again: the keeper goes on by itself.
func TestKeeperRepeatsOffWhenItsDaemonIsGone(t *testing.T) {
	kept(t, func(t *testing.T, r *Remote, h *house) {
		must(t, r.Set(unit.On))
		h.relay.failNext(100)
		h.born[0].in.Close()
		pass(5 * time.Second)
		h.relay.want(t, unit.On, "while the driver fails")
		pass(10 * time.Second)
		h.relay.want(t, unit.Off, "when it works again")
	})
}

func TestWhatIsNotUnderstoodEndsHeat(t *testing.T) {
	for _, text := range []string{"on", "on 1", "off", "off 1 2", "ON 1 0", "", "on 1 0 0", strings.Repeat("x", 2*longest)} {
		kept(t, func(t *testing.T, r *Remote, h *house) {
			must(t, r.Set(unit.On))
			fmt.Fprintln(h.born[0].in, text)
			synctest.Wait()
			h.relay.want(t, unit.Off, fmt.Sprintf("after %.20q", text))
		})
	}
	for _, text := range []string{"on 7 x", "on 7 -1", "on 7 999999", "on 7 9999999999999999999999"} {
		kept(t, func(t *testing.T, r *Remote, h *house) {
			must(t, r.Set(unit.On))
			fmt.Fprintln(h.born[0].in, text)
			synctest.Wait()
			h.relay.want(t, unit.Off, fmt.Sprintf("after %q", text))
			must(t, r.Set(unit.Off))
		})
	}
}

func TestLineThatIsTakenIsToldApart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for _, c := range []struct {
			why   error
			taken bool
		}{
			{fmt.Errorf("/dev/relay: %w", line.ErrTaken), true},
			{errors.New("no such\nfile"), false},
		} {
			conn := &child{in: newPipe(), out: newPipe(), driver: &cutOff{Driver: &relay{}}}
			Fail(conn.out, c.why)
			_, err := Start(func() (Conn, error) { return conn, nil }, nil)
			if err == nil || errors.Is(err, line.ErrTaken) != c.taken || strings.Contains(err.Error(), "\n") {
				t.Errorf("%v becomes %v", c.why, err)
			}
		}
		mute := &house{relay: &relay{}, mute: true}
		began := time.Now()
		if _, err := Start(mute.start, nil); !errors.Is(err, ErrSilent) || time.Since(began) != startsWithin {
			t.Errorf("a keeper that never is ready: %v after %v", err, time.Since(began))
		}
	})
}

// FuzzHear: answers come from a process of ours, but a broken one must neither
// bring the daemon down nor pass for a confirmation.
func FuzzHear(f *testing.F) {
	for _, text := range []string{"ready 0", "ok 1 5", "no 1 5 wire loose", "failed no line", "ok", "ok 1"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		l := &link{ready: make(chan error, 1), gone: make(chan struct{}), waits: map[uint64]chan error{1: make(chan error, 1)}}
		answer := l.waits[1]
		l.hear(text)
		select {
		case err := <-answer:
			if words := strings.Fields(text); err == nil && (len(words) < 3 || words[0] != "ok" || strings.TrimLeft(words[1], "0") != "1") {
				t.Errorf("%q confirms", text)
			}
		default:
		}
	})
}
