// Package systemd tells the service manager that started the program how it
// fares, by the protocol of sd_notify(3): one datagram a message to the socket
// that NOTIFY_SOCKET names.
//
// The watchdog is fed by the loop and by nothing else: only a tick that was
// whole, in which the probe had answered lately and the line took what it was
// told, counts as life. A timer would go on while the loop hangs.
package systemd

import (
	"net"
	"time"

	"mashward/controller/loop"
	"mashward/sensors"
)

// answered is how long ago the probe may have answered, be it with a fault.
const answered = 5 * time.Second

// Notifier tells the service manager. It implements loop.Watcher. The zero
// value tells nobody.
type Notifier struct {
	conn net.Conn
	next chan string
	told bool // that it is ready
}

// New opens the socket; "" is a program that no service manager has started.
// The error says that there is a socket and that it cannot be used.
func New(socket string) (*Notifier, error) {
	if socket == "" {
		return &Notifier{}, nil
	}
	if socket[0] == '@' {
		socket = "\x00" + socket[1:] // an address that is no file
	}
	conn, err := net.DialUnix("unixgram", nil, &net.UnixAddr{Name: socket, Net: "unixgram"})
	if err != nil {
		return &Notifier{}, err
	}
	n := &Notifier{conn: conn, next: make(chan string, 1)}
	go n.send()
	return n, nil
}

// send writes what is to be told; the loop never waits for it.
func (n *Notifier) send() {
	for text := range n.next {
		_, _ = n.conn.Write([]byte(text)) // one that is lost is missed, and that is its meaning
	}
}

// Watch implements loop.Watcher.
func (n *Notifier) Watch(f *loop.Frame) {
	if n.conn == nil || !Whole(f) {
		return
	}
	text := "WATCHDOG=1"
	if !n.told {
		text = "READY=1\nWATCHDOG=1"
	}
	select {
	case n.next <- text:
		n.told = true
	default: // the one before is still being written
	}
}

// Whole tells whether a tick was a complete cycle: the probe had answered in
// the last seconds, and the line took what it was told.
func Whole(f *loop.Frame) bool {
	age := f.Tick.Reading.Age(f.Tick.Now)
	return f.Tick.Reading.Fault != sensors.NoReading && age >= 0 && age <= answered && f.LineFault == nil
}

// Idle tells that the program is up without a loop, because its rig is broken,
// and that there is nothing to watch over. (0 ends the watch: systemd, from
// memory.)
func (n *Notifier) Idle() { n.tell("READY=1\nWATCHDOG_USEC=0") }

// Stopping tells that the end has begun.
func (n *Notifier) Stopping() { n.tell("STOPPING=1") }

func (n *Notifier) tell(text string) {
	if n.conn != nil {
		_, _ = n.conn.Write([]byte(text)) // nobody is there to be told that nobody was told
	}
}
