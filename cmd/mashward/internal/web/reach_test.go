package web

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"testing"
)

func TestAnAddressBeyondThisMachineIsKnown(t *testing.T) {
	for address, want := range map[string]string{
		"127.0.0.1:8973": "here", "[::1]:8973": "here", "localhost:8973": "here", "127.3.2.1:1": "here", "[::ffff:127.0.0.1]:1": "here",
		":8973": "beyond", "0.0.0.0:8973": "beyond", "[::]:8973": "beyond", "192.0.2.2:8973": "beyond", "[fd00::2]:8973": "beyond",
		"kettle.local:1": "no", "8973": "no", "": "no", "192.0.2.2": "no", "[::1": "no", "256.0.0.1:1": "no",
	} {
		beyond, err := Reach(address)
		got := map[bool]string{true: "beyond", false: "here"}[beyond]
		if err != nil {
			got = "no"
		}
		if got != want {
			t.Errorf("%s: %s, not %s (%v)", address, got, want, err)
		}
	}
}

// at is a request that came in at an address of this machine.
func at(local, from, host string) *http.Request {
	r := httptest.NewRequest("GET", "/", nil)
	r.Host, r.RemoteAddr = host, from
	addr, err := net.ResolveTCPAddr("tcp", local)
	if err != nil {
		panic(err)
	}
	return r.WithContext(context.WithValue(r.Context(), http.LocalAddrContextKey, net.Addr(addr)))
}

// DNS rebinding: a name of somebody else's is made to lead here, and the browser
// takes us for his site. What a name leads to is nothing to go by; what counts is
// the list of names, and the address that this end of the connection has.
func TestFromBeyondOnlyOurNamesAndThisEndOfTheConnectionAreOurs(t *testing.T) {
	names := []string{"vm", "vm.local", "kettle.lan"}
	for _, c := range []struct {
		local string
		hosts map[string]bool
	}{
		{"192.0.2.2:8973", map[string]bool{
			"192.0.2.2:8973": true, "vm:8973": true, "VM.local:8973": true, "kettle.lan:8973": true, "[::ffff:192.0.2.2]:8973": true,
			"192.0.2.3:8973": false, "192.0.2.2": false, "192.0.2.2:80": false, "127.0.0.1:8973": false, "localhost:8973": false, "[::1]:8973": false,
			"kettle.local.evil.com:8973": false, "vm.local.:8973": false, "vm.evil.com:8973": false, "vm@evil.com:8973": false, "evil.com:8973": false,
			"0.0.0.0:8973": false, "": false, ":8973": false, "192.0.2.2:8973:8973": false, "3221225986:8973": false, "0xc0000202:8973": false, "192.0.514:8973": false,
		}},
		{"[fd00::2]:8973", map[string]bool{"[fd00::2]:8973": true, "[fd00:0:0::2]:8973": true, "[fd00::2%25eth0]:8973": false, "[fd00::3]:8973": false, "vm.local:8973": true}},
		{"[fe80::1%1]:80", map[string]bool{"[fe80::1]": true, "[fe80::1]:80": true, "[fe80::1%1]": false, "vm": true}},
		// Nobody's name leads to this machine itself, not even our own: mDNS answers may be forged.
		{"127.0.0.1:8973", map[string]bool{"127.0.0.1:8973": true, "localhost:8973": true, "vm:8973": false, "vm.local:8973": false, "192.0.2.2:8973": false}},
	} {
		for host, want := range c.hosts {
			if got := ours(at(c.local, "192.0.2.9:5", host), names); got != want {
				t.Errorf("at %s asked for %q: ours %v, want %v", c.local, host, got, want)
			}
		}
	}
}

func TestWhoeverAsksForSomebodyElseIsNotWithin(t *testing.T) {
	for from, want := range map[string]bool{
		"127.0.0.1:9": true, "[::1]:9": true, "[::ffff:127.0.0.1]:9": true, "192.0.2.9:9": false, "[fe80::1%eth0]:9": false, "": false, "@": false, "localhost:9": false,
	} {
		if got := Within(at("127.0.0.1:8973", from, "localhost:8973")); got != want {
			t.Errorf("%q: %v", from, got)
		}
	}
	for _, name := range forwarding {
		r := at("127.0.0.1:8973", "127.0.0.1:9", "localhost:8973")
		r.Header.Set(name, "203.0.113.9")
		if Within(r) {
			t.Errorf("%s is not looked at", name)
		}
	}
}

// peer is a connection that says where it comes from.
type peer struct {
	net.Conn
	from string
}

func (p peer) RemoteAddr() net.Addr {
	a, _ := net.ResolveTCPAddr("tcp", p.from)
	return a
}

func (p peer) Close() error { return nil }

// queue is a listener with connections that wait.
type queue struct {
	net.Listener
	waits chan net.Conn
}

func (q queue) Accept() (net.Conn, error) {
	select {
	case c := <-q.waits:
		return c, nil
	default:
		return nil, net.ErrClosed
	}
}

func TestVisitorsFromBeyondLeaveAQuarterOfThePlaces(t *testing.T) {
	q := queue{waits: make(chan net.Conn, 200)}
	come := func(n int, from func(i int) string) {
		for i := range n {
			q.waits <- peer{from: from(i)}
		}
	}
	doors := NewDoors(MaxConnections)
	l := doors.Limit(q)
	in := func() (all []net.Conn) {
		for len(doors.free) < cap(doors.free) { // else it would wait
			c, err := l.Accept()
			if err != nil {
				return all
			}
			all = append(all, c)
		}
		return all
	}
	come(40, func(int) string { return "192.0.2.9:1" })
	one := in()
	if len(one) != PerVisitor {
		t.Errorf("one visitor has %d connections, want %d", len(one), PerVisitor)
	}
	come(100, func(i int) string { return fmt.Sprintf("192.0.2.%d:1", 10+i) })
	more := in()
	if got, want := len(one)+len(more), MaxConnections*3/4; got != want {
		t.Errorf("all of them have %d, want %d", got, want)
	}
	come(MaxConnections/4, func(int) string { return "127.0.0.1:1" })
	if here := in(); len(here) != MaxConnections/4 {
		t.Errorf("this machine has %d, want %d", len(here), MaxConnections/4)
	}
	one[0].Close()
	one[0].Close()
	come(3, func(int) string { return "192.0.2.9:1" })
	if again := in(); len(again) != 1 {
		t.Errorf("one has gone, and %d came", len(again))
	}
}
