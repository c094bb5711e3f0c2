package web

import (
	"crypto/tls"
	"net"
	"net/netip"
	"sync"
)

// PerVisitor is how many connections one address beyond this machine may have:
// some pages, each with its stream.
const PerVisitor = 16

// Doors share their places for connections: at most so many are open at a time.
// One address beyond this machine has at most PerVisitor, and all of those
// together leave a quarter to this machine, where STOP must always get through.
type Doors struct {
	// TLS is spoken with those who come from beyond this machine; nil: plain HTTP
	// with everybody.
	TLS *tls.Config

	free chan struct{}

	mu    sync.Mutex
	from  map[netip.Addr]int // open connections from beyond
	all   int                // of them
	share int                // at most
}

// NewDoors has n places.
func NewDoors(n int) *Doors {
	return &Doors{free: make(chan struct{}, n), from: map[netip.Addr]int{}, share: max(1, n*3/4)}
}

// Limit lets at most n connections be open at a time; further ones wait.
func Limit(l net.Listener, n int) net.Listener { return NewDoors(n).Limit(l) }

// Limit opens a further door, with the places of all.
func (d *Doors) Limit(l net.Listener) net.Listener { return &limited{Listener: l, doors: d} }

// enter counts one in; false where he has his share.
func (d *Doors) enter(from netip.Addr) bool {
	if from.IsLoopback() {
		return true
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.all >= d.share || d.from[from] >= PerVisitor {
		return false
	}
	d.all++
	d.from[from]++
	return true
}

// leave gives a place back.
func (d *Doors) leave(from netip.Addr) {
	<-d.free
	if from.IsLoopback() {
		return
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.all--
	if d.from[from]--; d.from[from] == 0 {
		delete(d.from, from)
	}
}

type limited struct {
	net.Listener
	doors *Doors
}

// Accept waits for a free place first. Whoever has his share already is sent away.
func (l *limited) Accept() (net.Conn, error) {
	for {
		l.doors.free <- struct{}{}
		c, err := l.Listener.Accept()
		if err != nil {
			<-l.doors.free
			return nil, err
		}
		from := visitor(c)
		if l.doors.enter(from) {
			in := &counted{Conn: c, doors: l.doors, from: from}
			if l.doors.TLS == nil || from.IsLoopback() {
				return in, nil
			}
			return tls.Server(in, l.doors.TLS), nil
		}
		_ = c.Close() // he is not served
		<-l.doors.free
	}
}

// visitor is where a connection comes from; the zero address counts as beyond.
func visitor(c net.Conn) netip.Addr {
	from, err := netip.ParseAddrPort(c.RemoteAddr().String())
	if err != nil {
		return netip.Addr{}
	}
	return from.Addr().Unmap().WithZone("")
}

type counted struct {
	net.Conn
	doors *Doors
	from  netip.Addr
	once  sync.Once
}

// Close gives the place back, once.
func (c *counted) Close() error {
	err := c.Conn.Close()
	c.once.Do(func() { c.doors.leave(c.from) })
	return err
}
