package line

import (
	"sync"
	"time"

	"mashward/controller/unit"
)

// Pause is how long a contact in series stays closed after the one before it was
// switched off: until that has opened, and breaks the current. A solid-state relay
// takes half a period of the mains, a coil some 20 ms (common practice, no source).
const Pause = 100 * time.Millisecond

// Behind is the driver of a contact that stands in series behind another: a
// contactor's, behind the element's relay. Both are told off at the same moment by
// whatever tells them, a lease that ends or a pipe that closes; this one opens
// Pause later, without current. It opens all the same where the other has not.
func Behind(d Driver) Driver { return &behind{driver: d} }

type behind struct {
	driver Driver

	mu     sync.Mutex // never held over the driver
	closed bool
	may    chan struct{} // closed when off may be written
}

// Set implements Driver. Off waits for Pause after the first request for it, and
// for nothing else.
func (b *behind) Set(to unit.Relay) error {
	b.mu.Lock()
	if to == unit.On {
		b.closed = true
		b.mu.Unlock()
		return b.driver.Set(unit.On)
	}
	if b.closed {
		may := make(chan struct{})
		time.AfterFunc(Pause, func() { close(may) })
		b.closed, b.may = false, may
	}
	may := b.may
	b.mu.Unlock()
	if may != nil {
		<-may
	}
	return b.driver.Set(to)
}
