package line

import (
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"mashward/controller/unit"
)

var _ Line = (*Leased)(nil)

// inBubble runs a test on a leased line under fake time: waiting is free and
// exact. The driver is set on at first, as a board may leave it.
func inBubble(t *testing.T, test func(t *testing.T, l *Leased, r *recorder)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		r := &recorder{relay: unit.On, start: time.Now()}
		l := Lease(r)
		synctest.Wait()
		r.wantRelay(t, unit.Off, "after Lease")
		test(t, l, r)
		if err := l.Close(); err != nil {
			t.Errorf("Close: %v", err)
		}
		r.wantRelay(t, unit.Off, "after Close")
	})
}

// pass lets fake time go by and everything settle.
func pass(d time.Duration) {
	<-time.After(d)
	synctest.Wait()
}

func wantErr(t *testing.T, got, want error) {
	t.Helper()
	if !errors.Is(got, want) {
		t.Errorf("error is %v, want %v", got, want)
	}
}

func TestLeaseExpiresWhenRenewalsStop(t *testing.T) {
	inBubble(t, func(t *testing.T, l *Leased, r *recorder) {
		for range 20 {
			wantErr(t, l.Hold(unit.On, MaxLease), nil)
			pass(time.Second)
			r.wantRelay(t, unit.On, "while renewed")
			if relay, sure := l.Applied(); relay != unit.On || !sure {
				t.Errorf("Applied is %v, %v; want on, true", relay, sure)
			}
		}
		pass(MaxLease - time.Second - time.Millisecond)
		r.wantRelay(t, unit.On, "just before the lease ends")
		pass(time.Millisecond)
		r.wantRelay(t, unit.Off, "when the lease has ended")
		if relay, sure := l.Applied(); relay != unit.Off || !sure {
			t.Errorf("Applied is %v, %v; want off, true", relay, sure)
		}
	})
}

func TestLeaseIsNeverLongerThanThreeSeconds(t *testing.T) {
	inBubble(t, func(t *testing.T, l *Leased, r *recorder) {
		wantErr(t, l.Hold(unit.On, time.Hour), nil)
		pass(3*time.Second - 1)
		r.wantRelay(t, unit.On, "just before 3 s")
		pass(1)
		r.wantRelay(t, unit.Off, "at 3 s")
	})
}

func TestShorterLeaseIsKeptAndNoneIsRefused(t *testing.T) {
	inBubble(t, func(t *testing.T, l *Leased, r *recorder) {
		wantErr(t, l.Hold(unit.On, 200*time.Millisecond), nil)
		pass(200 * time.Millisecond)
		r.wantRelay(t, unit.Off, "after the short lease")
		for _, none := range []time.Duration{0, -1, -time.Hour} {
			wantErr(t, l.Hold(unit.On, time.Second), nil)
			wantErr(t, l.Hold(unit.On, none), ErrLease)
			synctest.Wait()
			r.wantRelay(t, unit.Off, "after a lease of no time")
		}
	})
}

func TestRenewalIsNotCutShortByTheOlderLease(t *testing.T) {
	inBubble(t, func(t *testing.T, l *Leased, r *recorder) {
		wantErr(t, l.Hold(unit.On, time.Second), nil)
		pass(time.Second - 1)
		wantErr(t, l.Hold(unit.On, MaxLease), nil)
		pass(MaxLease - 1)
		r.wantRelay(t, unit.On, "just before the second lease ends")
		pass(1)
		r.wantRelay(t, unit.Off, "after the second lease")
	})
}

func TestWhatIsNotOnIsOff(t *testing.T) {
	inBubble(t, func(t *testing.T, l *Leased, r *recorder) {
		for _, not := range []unit.Relay{unit.Off, 2, 255} {
			wantErr(t, l.Hold(unit.On, MaxLease), nil)
			wantErr(t, l.Hold(not, MaxLease), nil)
			r.wantRelay(t, unit.Off, "after Hold of what is not On")
		}
	})
}

func TestHoldAfterDropIsRefusedUntilRearm(t *testing.T) {
	inBubble(t, func(t *testing.T, l *Leased, r *recorder) {
		wantErr(t, l.Hold(unit.On, MaxLease), nil)
		l.Drop()
		synctest.Wait()
		r.wantRelay(t, unit.Off, "after Drop")
		for range 10 {
			wantErr(t, l.Hold(unit.On, MaxLease), ErrDropped)
			wantErr(t, l.Hold(unit.Off, MaxLease), nil)
			pass(time.Second)
			r.wantRelay(t, unit.Off, "while dropped")
		}
		l.Rearm()
		pass(time.Second)
		r.wantRelay(t, unit.Off, "Rearm alone")
		wantErr(t, l.Hold(unit.On, MaxLease), nil)
		r.wantRelay(t, unit.On, "after Rearm and Hold")
	})
}

func TestDropTakesHeatAwayWhileHoldIsStuckInTheDriver(t *testing.T) {
	for name, takesEffect := range map[string]bool{"before it takes effect": false, "after it took effect": true} {
		t.Run(name, func(t *testing.T) {
			inBubble(t, func(t *testing.T, l *Leased, r *recorder) {
				gate := make(chan struct{})
				if takesEffect {
					r.after = gate
				} else {
					r.before = gate
				}
				result := make(chan error, 1)
				go func() { result <- l.Hold(unit.On, MaxLease) }()
				synctest.Wait()
				r.wantRelay(t, unit.RelayOf(takesEffect), "with Hold stuck")

				dropped := time.Since(r.start)
				l.Drop() // returns although Hold does not
				synctest.Wait()
				r.wantRelay(t, unit.Off, "after Drop")
				if at, ok := r.firstOffAfter(dropped); !ok || at != dropped {
					t.Errorf("off was driven at %v (%v), want %v", at, ok, dropped)
				}
				if relay, sure := l.Applied(); relay != unit.On || sure {
					t.Errorf("with On stuck Applied is %v, %v; want on, false", relay, sure)
				}
				pass(30 * time.Second)
				close(gate)
				synctest.Wait()
				wantErr(t, <-result, ErrExpired)
				r.wantRelay(t, unit.Off, "after the stuck call came through")
			})
		})
	}
}

// The driver may switch on late and then hang for good: nobody tells, so off
// has to be repeated for as long as the call has not come back.
func TestOffIsRepeatedWhileACallMaySwitchOn(t *testing.T) {
	inBubble(t, func(t *testing.T, l *Leased, r *recorder) {
		r.before, r.after = make(chan struct{}), make(chan struct{})
		result := make(chan error, 1)
		go func() { result <- l.Hold(unit.On, MaxLease) }()
		synctest.Wait()
		l.Drop()
		pass(10*time.Second + retryAfter/2)
		close(r.before)
		synctest.Wait()
		r.wantRelay(t, unit.On, "when the driver switches on late")
		pass(retryAfter)
		r.wantRelay(t, unit.Off, "one repetition later")
		close(r.after)
		wantErr(t, <-result, ErrExpired)
	})
}

func TestLeaseExpiresWhileHoldIsStuckInTheDriver(t *testing.T) {
	inBubble(t, func(t *testing.T, l *Leased, r *recorder) {
		r.after = make(chan struct{})
		result := make(chan error, 1)
		go func() { result <- l.Hold(unit.On, MaxLease) }()
		pass(MaxLease - 1)
		r.wantRelay(t, unit.On, "just before the lease ends")
		pass(1)
		r.wantRelay(t, unit.Off, "after the lease")
		close(r.after)
		wantErr(t, <-result, ErrExpired)
	})
}

func TestOffIsDrivenBesideAStuckHold(t *testing.T) {
	inBubble(t, func(t *testing.T, l *Leased, r *recorder) {
		r.after = make(chan struct{})
		result := make(chan error, 1)
		go func() { result <- l.Hold(unit.On, MaxLease) }()
		synctest.Wait()
		wantErr(t, l.Hold(unit.Off, MaxLease), ErrBusy)
		synctest.Wait()
		r.wantRelay(t, unit.Off, "after Hold(Off)")
		wantErr(t, l.Hold(unit.On, MaxLease), ErrBusy)
		close(r.after)
		wantErr(t, <-result, ErrExpired)
	})
}

func TestDriverErrorIsUnknownAndOffIsRepeated(t *testing.T) {
	for _, asked := range []unit.Relay{unit.On, unit.Off} {
		t.Run("Hold "+asked.String(), func(t *testing.T) {
			inBubble(t, func(t *testing.T, l *Leased, r *recorder) {
				wantErr(t, l.Hold(unit.On, MaxLease), nil)
				const failures = 8
				r.failNext(failures)
				err := l.Hold(asked, MaxLease)
				wantErr(t, err, ErrUnknown)
				wantErr(t, err, errWire)
				synctest.Wait()
				if relay, sure := l.Applied(); relay != unit.On || sure {
					t.Errorf("after an error Applied is %v, %v; want on, false", relay, sure)
				}
				r.wantRelay(t, unit.On, "while the driver fails")
				pass(failures * retryAfter)
				r.wantRelay(t, unit.Off, "when the driver works again")
				if relay, sure := l.Applied(); relay != unit.Off || !sure {
					t.Errorf("Applied is %v, %v; want off, true", relay, sure)
				}
				before := r.sets
				pass(time.Minute)
				if r.sets != before {
					t.Errorf("off was driven %d more times after it was confirmed", r.sets-before)
				}
			})
		})
	}
}

func TestPanicOfTheLoopTakesHeatAway(t *testing.T) {
	loop := func(l *Leased, drop bool) {
		defer func() { _ = recover() }()
		if drop {
			defer l.Drop()
		}
		_ = l.Hold(unit.On, MaxLease)
		panic("loop")
	}
	inBubble(t, func(t *testing.T, l *Leased, r *recorder) {
		loop(l, true)
		synctest.Wait()
		r.wantRelay(t, unit.Off, "after a panic with Drop deferred")
		l.Rearm()
		loop(l, false)
		r.wantRelay(t, unit.On, "after a panic without Drop")
		pass(MaxLease)
		r.wantRelay(t, unit.Off, "a lease later")
	})
}

func TestCloseDropsForGood(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := &recorder{start: time.Now()}
		l := Lease(r)
		wantErr(t, l.Hold(unit.On, MaxLease), nil)
		wantErr(t, l.Close(), nil)
		r.wantRelay(t, unit.Off, "after Close")
		l.Rearm()
		wantErr(t, l.Hold(unit.On, MaxLease), ErrClosed)
		wantErr(t, l.Hold(unit.Off, MaxLease), nil)
		wantErr(t, l.Close(), nil)
		r.wantRelay(t, unit.Off, "after a second Close")
	})
}

func TestCloseSaysWhenOffIsNotConfirmed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := &recorder{start: time.Now()}
		l := Lease(r)
		wantErr(t, l.Hold(unit.On, MaxLease), nil)
		r.failNext(1000)
		began := time.Now()
		wantErr(t, l.Close(), ErrUnknown)
		if took := time.Since(began); took != MaxLease {
			t.Errorf("Close took %v, want %v", took, MaxLease)
		}
		pass(time.Second)
	})
}

func TestCallThatComesThroughAfterCloseIsDrivenOff(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := &recorder{start: time.Now(), before: make(chan struct{})}
		l := Lease(r)
		result := make(chan error, 1)
		go func() { result <- l.Hold(unit.On, MaxLease) }()
		synctest.Wait()
		wantErr(t, l.Close(), ErrUnknown) // On is stuck: nobody can be sure
		pass(time.Minute)
		close(r.before)
		wantErr(t, <-result, ErrExpired)
		r.wantRelay(t, unit.Off, "after the stuck call came through")
	})
}

// Many goroutines at once, for the race detector: whatever was called in
// whatever order, after the last Drop the line goes off by itself and stays so.
func TestConcurrentUseEndsOff(t *testing.T) {
	for range 100 {
		inBubble(t, func(t *testing.T, l *Leased, r *recorder) {
			for i := range 4 {
				go useAtRandom(l, i)
			}
			synctest.Wait()
			r.wantRelay(t, unit.Off, "after the last Drop")
			if relay, sure := l.Applied(); relay != unit.Off || !sure {
				t.Errorf("Applied is %v, %v; want off, true", relay, sure)
			}
			wantErr(t, l.Hold(unit.On, MaxLease), ErrDropped)
		})
	}
}

func useAtRandom(l *Leased, seed int) {
	for j := range 25 {
		switch (seed + j) % 5 {
		case 0:
			l.Drop()
		case 1:
			l.Rearm()
		case 2:
			_ = l.Hold(unit.Off, MaxLease)
		default:
			_ = l.Hold(unit.On, time.Duration(j)*time.Millisecond)
		}
		l.Applied()
	}
	l.Drop()
}
