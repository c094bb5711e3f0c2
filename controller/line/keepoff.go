package line

import (
	"time"

	"mashward/controller/unit"
)

// keepOff drives the line off whenever it is woken and nothing is granted, and
// repeats it until it is sure. It ends after Close, when the line is off or
// MaxLease has passed.
func (l *Leased) keepOff() {
	defer close(l.gone)
	for {
		select {
		case <-l.wake:
			l.driveOff(l.quit)
		case <-l.quit:
			giveUp := make(chan struct{})
			timer := time.AfterFunc(MaxLease, func() { close(giveUp) })
			l.driveOff(giveUp)
			timer.Stop()
			return
		}
	}
}

// driveOff repeats off until the driver has confirmed it, heat is granted
// again, or stop is closed.
func (l *Leased) driveOff(stop <-chan struct{}) {
	for !l.granted() {
		if sure, err := l.setOff(); sure && err == nil {
			return
		}
		pause := time.NewTimer(retryAfter)
		select {
		case <-pause.C:
		case <-l.wake:
			pause.Stop()
		case <-stop:
			pause.Stop()
			return
		}
	}
}

// granted tells whether heat is granted; after Close it never is.
func (l *Leased) granted() bool {
	select {
	case <-l.quit:
		return false
	default:
		return l.current.Load() != nil
	}
}

// setOff drives the line off once. It is sure of it when the driver says so and
// no call that may switch on was under way meanwhile.
func (l *Leased) setOff() (sure bool, err error) {
	word := l.known.Load()
	busy := l.inside.Load() != 0
	if err := l.driver.Set(unit.Off); err != nil {
		l.known.CompareAndSwap(word, inState(word, unknown))
		return false, err
	}
	if busy {
		return false, nil
	}
	return l.known.CompareAndSwap(word, inState(word, off)), nil
}

// inState is a word of known with another state.
func inState(word, state uint64) uint64 { return word&^stateBits | state }
