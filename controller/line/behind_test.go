package line

import (
	"testing"
	"testing/synctest"
	"time"

	"mashward/controller/unit"
)

// series is a relay and a contactor behind it, each with its lease.
func series(t *testing.T, test func(relay, contactor *Leased, r, c *recorder)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		r := &recorder{relay: unit.On, start: time.Now()}
		c := &recorder{relay: unit.On, start: time.Now()}
		relay, contactor := Lease(r), Lease(Behind(c))
		synctest.Wait()
		r.wantRelay(t, unit.Off, "relay at first")
		c.wantRelay(t, unit.Off, "contactor at first: it is not known to be closed, so nothing is waited for")
		wantErr(t, contactor.Hold(unit.On, MaxLease), nil)
		wantErr(t, relay.Hold(unit.On, MaxLease), nil)
		c.wantRelay(t, unit.On, "contactor when held")
		test(relay, contactor, r, c)
		pass(Pause)
		c.wantRelay(t, unit.Off, "contactor after the pause")
		wantErr(t, relay.Close(), nil)
		wantErr(t, contactor.Close(), nil)
	})
}

// However both are told off, the relay opens at once and the contactor behind it
// a tenth of a second later: neither sooner nor not at all.
func TestAContactBehindAnotherOpensAfterIt(t *testing.T) {
	for name, off := range map[string]func(*testing.T, *Leased, *Leased){
		"dropped": func(_ *testing.T, relay, contactor *Leased) { relay.Drop(); contactor.Drop() },
		"the lease ends": func(_ *testing.T, _, _ *Leased) {
			pass(MaxLease)
		},
		"dropped twice, and held off": func(_ *testing.T, relay, contactor *Leased) {
			relay.Drop()
			for range 2 {
				contactor.Drop()
				go func() { _ = contactor.Hold(unit.Off, MaxLease) }()
			}
		},
		"the other has welded": func(_ *testing.T, _, contactor *Leased) { contactor.Drop() },
	} {
		t.Run(name, func(t *testing.T) {
			series(t, func(relay, contactor *Leased, r, c *recorder) {
				off(t, relay, contactor)
				synctest.Wait()
				if name != "the other has welded" {
					r.wantRelay(t, unit.Off, "relay")
				}
				pass(Pause - 1)
				c.wantRelay(t, unit.On, "contactor just before the pause is over")
				pass(1)
				c.wantRelay(t, unit.Off, "contactor")
			})
		})
	}
}

// An open contactor is told off each second: that waits for nothing.
func TestAContactThatIsOpenIsHeldOffAtOnce(t *testing.T) {
	series(t, func(_, contactor *Leased, _, c *recorder) {
		contactor.Drop()
		pass(Pause)
		for range 5 {
			began := time.Now()
			wantErr(t, contactor.Hold(unit.Off, MaxLease), nil)
			if took := time.Since(began); took != 0 {
				t.Errorf("off took %v", took)
			}
		}
		// And closed again it opens late again.
		contactor.Rearm()
		wantErr(t, contactor.Hold(unit.On, MaxLease), nil)
		pass(time.Second)
		began := time.Now()
		wantErr(t, contactor.Hold(unit.Off, MaxLease), nil)
		if took := time.Since(began); took != Pause {
			t.Errorf("off took %v, want %v", took, Pause)
		}
		c.wantRelay(t, unit.Off, "held off")
	})
}
