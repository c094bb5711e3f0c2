package sampler

import (
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"mashward/controller/unit"
	"mashward/sensors"
)

var _ sensors.Probe = (*Sampler)(nil)

// kettle answers after a while; with hang, the first time only.
type kettle struct {
	takes time.Duration
	fault sensors.Fault
	hang  chan struct{}
	asked atomic.Int64
}

func (k *kettle) Read() (unit.Celsius, sensors.Fault) {
	n := k.asked.Add(1)
	if k.hang != nil && n > 1 {
		<-k.hang
	}
	<-time.After(k.takes)
	return 20 + unit.Celsius(n), k.fault
}

func begin(k *kettle) (p *Sampler, now func() time.Duration) {
	began := time.Now()
	now = func() time.Duration { return time.Since(began) }
	return Start(k, now, time.Second), now
}

// sampled runs a sampler under fake time.
func sampled(t *testing.T, k *kettle, test func(t *testing.T, p *Sampler, now func() time.Duration)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		p, now := begin(k)
		// A source that takes no time may have answered by now.
		if r := p.Latest(); k.takes > 0 && r != (sensors.Reading{}) {
			t.Errorf("before the first answer it is %+v", r)
		}
		test(t, p, now)
		p.Stop()
		p.Stop()
		<-time.After(time.Minute)
		before := k.asked.Load()
		<-time.After(time.Minute)
		if after := k.asked.Load(); after != before {
			t.Errorf("asked %d times after Stop", after-before)
		}
	})
}

// pass lets fake time go by and everything settle.
func pass(d time.Duration) {
	<-time.After(d)
	synctest.Wait()
}

// A conversion takes 750 ms; the reading is that of before it, and one comes
// each second.
func TestReadingIsDatedFromBeforeTheQuestion(t *testing.T) {
	k := &kettle{takes: 750 * time.Millisecond, fault: sensors.None}
	sampled(t, k, func(t *testing.T, p *Sampler, now func() time.Duration) {
		for n := range 10 {
			pass(750 * time.Millisecond)
			want := sensors.Reading{Value: 21 + unit.Celsius(n), Taken: time.Duration(n) * time.Second, Fault: sensors.None}
			if r := p.Latest(); r != want {
				t.Errorf("reading %d is %+v, want %+v", n, r, want)
			}
			pass(250*time.Millisecond - 1)
			if age := p.Latest().Age(now()); age != time.Second-1 {
				t.Errorf("just before the next question its age is %v, want 1 s", age)
			}
			pass(1)
		}
	})
}

// A slow answer is as old as its question: after 9 s it permits nothing.
func TestSlowAnswerIsAsOldAsItsQuestion(t *testing.T) {
	k := &kettle{takes: 9 * time.Second, fault: sensors.None}
	sampled(t, k, func(t *testing.T, p *Sampler, now func() time.Duration) {
		pass(9 * time.Second)
		if r := p.Latest(); !r.Good() || r.Age(now()) != 9*time.Second {
			t.Errorf("it is %+v, aged %v; want 9 s", r, r.Age(now()))
		}
		pass(9 * time.Second)
		if got := k.asked.Load(); got != 3 {
			t.Errorf("asked %d times in 18 s, want a third time just now", got)
		}
	})
}

func TestHungReadShowsAsAgeAndKeepsOneGoroutine(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := &kettle{fault: sensors.None, hang: make(chan struct{})}
		p, now := begin(k)
		pass(time.Hour)
		r := p.Latest()
		if !r.Good() || r.Age(now()) != time.Hour {
			t.Errorf("it is %+v, aged %v; want the one reading there was", r, r.Age(now()))
		}
		if got := k.asked.Load(); got != 2 {
			t.Errorf("asked %d times, want 2: one question hangs and no other is begun", got)
		}
		p.Stop()
		close(k.hang)
	})
}

func TestFaultCarriesNoValue(t *testing.T) {
	for _, fault := range []sensors.Fault{sensors.NoReading, sensors.Open, sensors.Shorted, sensors.Checksum, sensors.PowerOn, sensors.Range, sensors.Bus} {
		k := &kettle{fault: fault}
		sampled(t, k, func(t *testing.T, p *Sampler, now func() time.Duration) {
			pass(2500 * time.Millisecond)
			if r := p.Latest(); r.Good() || r.Value != 0 || r.Fault != fault || r.Age(now()) != 500*time.Millisecond {
				t.Errorf("%v: it is %+v", fault, r)
			}
		})
	}
}
