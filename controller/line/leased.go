package line

import (
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"mashward/controller/unit"
)

// retryAfter is the pause between two attempts to drive the line off.
const retryAfter = 100 * time.Millisecond

// grant is one lease. It is alive while Leased.current points to it. Only the
// holder of Leased.holding touches the timer.
type grant struct{ timer *time.Timer }

// Leased is a Line over a driver. In the loop's goroutine:
//
//	l := line.Lease(driver)
//	defer l.Close()
//	defer l.Drop() // also when the loop panics
//
// All methods may be called from any goroutine.
type Leased struct {
	driver  Driver
	current atomic.Pointer[grant] // nil = heat is not granted
	dropped atomic.Bool
	inside  atomic.Int64  // calls under way that may switch on
	known   atomic.Uint64 // what the line does, see word

	holding sync.Mutex    // one Hold in the driver at a time; off never waits for it
	wake    chan struct{} // capacity 1: drive off now
	quit    chan struct{} // closed by Close
	gone    chan struct{} // closed when the off goroutine has ended
	closing sync.Once
}

// What the line is known to do. It is kept in the two lowest bits of a word;
// above them the word counts the calls that may have switched on, so that a
// confirmation of off that comes late cannot pass for one of the newer state.
const (
	unknown uint64 = iota
	off
	on

	stateBits = 3 // mask
)

// Lease puts a lease on the driver and drives the line off at once.
func Lease(d Driver) *Leased {
	l := &Leased{
		driver: d,
		wake:   make(chan struct{}, 1),
		quit:   make(chan struct{}),
		gone:   make(chan struct{}),
	}
	l.rouse()
	go l.keepOff()
	return l
}

// Hold implements Line. The lease is cut to MaxLease. What is not On is Off.
func (l *Leased) Hold(r unit.Relay, lease time.Duration) error {
	if r != unit.On {
		return l.holdOff()
	}
	if lease <= 0 {
		return l.refuse(ErrLease)
	}
	if !l.holding.TryLock() {
		return l.refuse(ErrBusy)
	}
	defer l.holding.Unlock()
	if err := l.grantOn(min(lease, MaxLease)); err != nil {
		return l.refuse(err)
	}
	return nil
}

// grantOn grants heat and drives the line. The order matters: the call is
// counted before the grant can be seen, and the grant is set before dropped is
// read, so that Drop either is seen here or finds the grant and takes it away,
// and so that the off goroutine knows of every call that may yet switch on.
func (l *Leased) grantOn(lease time.Duration) error {
	l.inside.Add(1)
	defer l.inside.Add(-1)
	word := (l.known.Load() | stateBits) + 1 + unknown
	l.known.Store(word)
	g := &grant{}
	if old := l.current.Swap(g); old != nil {
		old.timer.Stop() // if it fired just now it finds g and does nothing
	}
	g.timer = time.AfterFunc(lease, func() {
		if l.current.CompareAndSwap(g, nil) {
			l.rouse()
		}
	})
	if err := l.shut(); err != nil {
		return err
	}
	if err := l.driver.Set(unit.On); err != nil {
		return fmt.Errorf("%w: switching on: %w", ErrUnknown, err)
	}
	if l.current.Load() != g {
		return ErrExpired
	}
	l.known.CompareAndSwap(word, word+on)
	return nil
}

// shut is why no heat may be granted, if so.
func (l *Leased) shut() error {
	select {
	case <-l.quit:
		return ErrClosed
	default:
	}
	if l.dropped.Load() {
		return ErrDropped
	}
	return nil
}

// refuse takes away what is granted, has the line driven off and hands the
// error on. After Close nobody else would do it.
func (l *Leased) refuse(err error) error {
	l.takeAway()
	select {
	case <-l.gone:
		l.setOff()
	default:
	}
	return err
}

// holdOff takes heat away and drives the line off in this call, so that the
// caller learns of a driver that fails. If the driver is busy it does not wait.
func (l *Leased) holdOff() error {
	l.current.Store(nil)
	if !l.holding.TryLock() {
		return l.refuse(ErrBusy)
	}
	defer l.holding.Unlock()
	sure, err := l.setOff()
	if err != nil {
		return l.refuse(fmt.Errorf("%w: switching off: %w", ErrUnknown, err))
	}
	if !sure {
		l.rouse()
	}
	return nil
}

// Drop implements Line: off now, and no heat until Rearm. It waits for nothing
// and takes no lock.
func (l *Leased) Drop() {
	l.dropped.Store(true)
	l.takeAway()
}

// Rearm lets heat be granted again after Drop. Only the loop calls it, when it
// has taken the stop command that goes with the Drop. It does not switch on.
func (l *Leased) Rearm() { l.dropped.Store(false) }

// Dropped tells whether Drop stands.
func (l *Leased) Dropped() bool { return l.dropped.Load() }

// Applied is what the line does, and whether that is known. If it is not, the
// answer is On: the worst has to be assumed.
func (l *Leased) Applied() (r unit.Relay, sure bool) {
	switch l.known.Load() & stateBits {
	case off:
		return unit.Off, true
	case on:
		return unit.On, true
	}
	return unit.On, false
}

// Close drops the line for good and waits, at most MaxLease, for it to be off.
func (l *Leased) Close() error {
	l.closing.Do(func() { close(l.quit) })
	l.Drop()
	late := time.NewTimer(MaxLease)
	defer late.Stop()
	select {
	case <-l.gone:
	case <-late.C:
	}
	if r, sure := l.Applied(); r != unit.Off || !sure {
		return fmt.Errorf("%w: not confirmed off on closing", ErrUnknown)
	}
	return nil
}

// takeAway ends whatever is granted and has the line driven off.
func (l *Leased) takeAway() {
	l.current.Store(nil)
	l.rouse()
}

// rouse wakes the off goroutine without waiting.
func (l *Leased) rouse() {
	select {
	case l.wake <- struct{}{}:
	default: // awake already
	}
}
