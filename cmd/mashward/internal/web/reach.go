package web

import (
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
)

// Reach tells whether an address to listen on can be reached from beyond this
// machine. A name other than localhost is refused: where it leads may change.
func Reach(address string) (beyond bool, err error) {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return false, fmt.Errorf("%s is no address to listen on: write one such as 127.0.0.1:8973", address)
	}
	switch host {
	case "localhost":
		return false, nil
	case "":
		return true, nil
	}
	ip, err := netip.ParseAddr(host)
	if err != nil {
		return false, fmt.Errorf("%s is no address to listen on: write 127.0.0.1, [::1], an address of this machine, or 0.0.0.0 for all of them", address)
	}
	return !ip.Unmap().IsLoopback(), nil
}

// Loopback tells why an address is not of this machine alone; nil where it is.
func Loopback(address string) error {
	beyond, err := Reach(address)
	if err == nil && beyond {
		err = fmt.Errorf("%s is not an address of this machine alone: write 127.0.0.1 or [::1], and the port", address)
	}
	return err
}

// ours tells whether the Host header names this machine and the very port that
// the request came in by. On a connection within this machine only a loopback
// address or localhost does: no other name, for a name can be made to lead here.
// On one from beyond, the address that the connection has at this end does, and
// the names that this machine is told to have.
func ours(r *http.Request, names []string) bool {
	host, port, err := net.SplitHostPort(r.Host)
	if err != nil {
		host, port = strings.TrimSuffix(strings.TrimPrefix(r.Host, "["), "]"), "80"
		if r.TLS != nil {
			port = "443"
		}
	}
	local, ok := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
	if !ok {
		return false
	}
	bound, err := netip.ParseAddrPort(local.String())
	if err != nil || port != fmt.Sprint(bound.Port()) {
		return false
	}
	here := bound.Addr().Unmap().WithZone("")
	ip, err := netip.ParseAddr(host)
	named := err != nil
	switch {
	case !named && ip.Zone() != "":
		return false
	case here.IsLoopback() && named:
		return host == "localhost"
	case here.IsLoopback():
		return ip.Unmap().IsLoopback()
	case named:
		return slices.Contains(names, strings.ToLower(host))
	}
	return ip.Unmap() == here
}

// From is the address that a request comes from; the zero one where it has none.
func From(r *http.Request) netip.Addr {
	from, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return netip.Addr{}
	}
	return from.Addr().Unmap().WithZone("")
}

// forwarding are headers by which a program says that it asks for somebody else.
var forwarding = []string{"Forwarded", "Via", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "X-Real-Ip"}

// Within tells whether a request comes from this machine itself, and not
// through a program here that hands on what others ask.
func Within(r *http.Request) bool {
	for _, name := range forwarding {
		if r.Header.Get(name) != "" {
			return false
		}
	}
	return From(r).IsLoopback()
}
