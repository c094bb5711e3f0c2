package yardstick

import (
	"net"
	"net/netip"
	"testing"
)

// Outside is an address of this machine on a network. What comes by it is not of this
// machine alone, and a browser does not trust it as it trusts localhost.
func Outside(t testing.TB) netip.Addr {
	t.Helper()
	all, err := net.InterfaceAddrs()
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range all {
		if p, err := netip.ParsePrefix(a.String()); err == nil && p.Addr().Is4() && p.Addr().IsGlobalUnicast() {
			return p.Addr()
		}
	}
	Missing(t, "this machine has no address on a network: nobody can come in from beyond it")
	return netip.Addr{}
}
