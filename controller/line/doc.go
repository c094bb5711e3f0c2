// Package line is the switched line of the element, and the lease on it. It is
// a shell: it has a goroutine, timers and a driver.
//
// Heat is a lease that expires, not a switch that stays. Whoever wants the
// element on must say so again and again; when nobody does, because the loop
// stalls, panics or deadlocks, the line goes off by itself within MaxLease.
//
// Off never waits for on. A grant of heat is one atomic pointer; taking it away
// is to clear that pointer and to wake a goroutine whose one duty is to drive
// the line off. It takes no lock that the loop holds, so that Drop works while
// Hold is stuck inside the driver.
//
// What this cannot do: drive a line whose driver is stuck in the kernel, open a
// welded contact, or act when the process is stopped or killed. A real line
// therefore has its driver in a process of its own, and hardware behind that.
package line

import (
	"errors"
	"time"

	"mashward/controller/unit"
)

// MaxLease is the longest lease that is given, whatever is asked for.
const MaxLease = 3 * time.Second

// Line is what the loop drives.
type Line interface {
	// Hold asks for the relay state for at most the given time. On expires by
	// itself; Off stays. After an error the line is being driven off and what
	// it does is unknown.
	Hold(unit.Relay, time.Duration) error
	// Drop takes heat away one way: from any goroutine, without waiting.
	Drop()
}

// Driver sets the physical line.
//
// Set may be called again while an earlier call has not returned: Off must not
// wait for On. Off must be safe to repeat. After an error the state of the line
// is unknown.
type Driver interface {
	Set(unit.Relay) error
}

// What Hold, Close and drivers report. All but ErrTaken stand for a line that is
// being driven off.
var (
	// ErrDropped: heat was asked for after Drop and before Rearm.
	ErrDropped = errors.New("line: dropped; take the stop command, then Rearm before asking for heat")
	// ErrLease: heat was asked for without time.
	ErrLease = errors.New("line: the lease of heat must be longer than 0 s")
	// ErrBusy: an earlier Hold is still inside the driver.
	ErrBusy = errors.New("line: an earlier call is stuck in the driver; driving the line off beside it")
	// ErrExpired: the lease ran out, or Drop came, while the driver was working.
	ErrExpired = errors.New("line: heat was taken away while the driver was switching it on; ask again")
	// ErrUnknown: the driver failed, so nobody knows what the line does.
	ErrUnknown = errors.New("line: the driver failed, the state of the line is unknown, off is repeated; check wiring and permissions")
	// ErrTaken: another process has the line. A driver says so when it is opened.
	ErrTaken = errors.New("line: another process holds it; two must never drive one element: end the other first")
	// ErrClosed: the line was closed.
	ErrClosed = errors.New("line: closed; make a new one")
)
