package line

import (
	"errors"
	"sync"
	"testing"
	"time"

	"mashward/controller/unit"
)

var errWire = errors.New("wire loose")

// recorder is a driver that remembers when it was set. Each On can be told to
// block: before it takes effect, or after it has taken effect but before it
// returns.
type recorder struct {
	mu     sync.Mutex
	relay  unit.Relay
	sets   int
	offs   []time.Duration // when off was driven, since the test began
	start  time.Time
	fail   int           // so many of the next calls fail
	before chan struct{} // On waits here before it takes effect
	after  chan struct{} // On waits here after it took effect
}

func (r *recorder) Set(to unit.Relay) error {
	if to == unit.On && r.before != nil {
		<-r.before
	}
	err := r.note(to)
	if to == unit.On && r.after != nil {
		<-r.after
	}
	return err
}

func (r *recorder) note(to unit.Relay) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.sets++
	if r.fail > 0 {
		r.fail--
		return errWire
	}
	r.relay = to
	if to == unit.Off {
		r.offs = append(r.offs, time.Since(r.start))
	}
	return nil
}

func (r *recorder) failNext(n int) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.fail = n
}

func (r *recorder) now() unit.Relay {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.relay
}

// firstOffAfter is the first time off was driven at or after t.
func (r *recorder) firstOffAfter(t time.Duration) (time.Duration, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, at := range r.offs {
		if at >= t {
			return at, true
		}
	}
	return 0, false
}

// wantRelay fails unless the driver stands there.
func (r *recorder) wantRelay(t *testing.T, want unit.Relay, when string) {
	t.Helper()
	if got := r.now(); got != want {
		t.Errorf("%s: the line is %v, want %v", when, got, want)
	}
}
