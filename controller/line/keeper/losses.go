package keeper

import (
	"sync"
	"time"
)

// losses remembers when keepers were lost, and whether that was too often. No
// lock of it is held while anything is waited for.
type losses struct {
	mu     sync.Mutex
	last   [mostLost]time.Time // the newest last
	gaveUp bool
}

// add notes that a keeper was lost.
func (l *losses) add(now time.Time) {
	l.mu.Lock()
	defer l.mu.Unlock()
	copy(l.last[:], l.last[1:])
	l.last[mostLost-1] = now
	if oldest := l.last[0]; !oldest.IsZero() && now.Sub(oldest) <= lostWithin {
		l.gaveUp = true
	}
}

// GaveUp tells that keepers of this line were lost too often: it can be switched
// off, and not on.
func (r *Remote) GaveUp() bool {
	r.losses.mu.Lock()
	defer r.losses.mu.Unlock()
	return r.losses.gaveUp
}

// TryAgain lets heat be asked for again: a person has looked. It waits for nothing.
func (r *Remote) TryAgain() {
	r.losses.mu.Lock()
	defer r.losses.mu.Unlock()
	r.losses.last, r.losses.gaveUp = [mostLost]time.Time{}, false
}
