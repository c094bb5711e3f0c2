package main

import (
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/netip"
	"os"
	"slices"
	"strings"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/mashward/internal/pairing"
	"mashward/cmd/mashward/internal/web"
)

// defaultAddress is of this machine alone.
const defaultAddress = "127.0.0.1:8973"

// reach refuses an address that phones could reach where they cannot be paired.
func (s *serve) reach() error {
	beyond, err := web.Reach(s.listen)
	switch {
	case err != nil:
		return usage("serve: %v", err)
	case beyond && s.state == "":
		return usage("serve: --listen %s lets phones in once they are paired, and those are kept in the folder of the state: add --state DIR, or listen on %s", s.listen, defaultAddress)
	case slices.ContainsFunc(s.given(), noName):
		return usage("serve: --names %s: write host names such as kettle.lan, with commas between", s.names)
	case (s.cert == "") != (s.key == ""):
		return usage("serve: --tls-cert and --tls-key go together")
	case !beyond && s.cert != "":
		return usage("serve: --tls-cert is for phones: add --listen 0.0.0.0:8973, or leave it out")
	case !beyond && s.names != "":
		return usage("serve: --names are for phones: add --listen 0.0.0.0:8973, or leave them out")
	}
	return nil
}

// listeners listen where they are told to. Where that is one address of the
// network, this machine is served too, by the same port: without it nobody here
// could have a code shown.
func (s *serve) listeners() ([]net.Listener, error) {
	no := func(err error) ([]net.Listener, error) {
		return nil, &exit{config.ExitIO, fmt.Sprintf("cannot listen: %v; choose another address with --listen", err)}
	}
	first, err := net.Listen("tcp", s.listen)
	if err != nil {
		return no(err)
	}
	at, err := netip.ParseAddrPort(first.Addr().String())
	if err != nil || at.Addr().IsLoopback() || at.Addr().IsUnspecified() {
		return []net.Listener{first}, nil
	}
	here, err := net.Listen("tcp", netip.AddrPortFrom(netip.AddrFrom4([4]byte{127, 0, 0, 1}), at.Port()).String())
	if err != nil {
		return no(errors.Join(err, first.Close()))
	}
	return []net.Listener{first, here}, nil
}

// here is where this machine itself asks.
func here(all []net.Listener) string {
	at, err := netip.ParseAddrPort(all[len(all)-1].Addr().String())
	if err == nil && at.Addr().IsUnspecified() {
		return netip.AddrPortFrom(netip.AddrFrom4([4]byte{127, 0, 0, 1}), at.Port()).String()
	}
	return all[len(all)-1].Addr().String()
}

func closeAll(all []net.Listener) {
	for _, l := range all {
		_ = l.Close() // at the end of the process: nobody waits for it
	}
}

// pairing is who may come in from beyond this machine, and by which names it
// may be asked for there.
func (s *serve) pairing(listener net.Listener, log *slog.Logger) (*pairing.Pairing, []string, error) {
	o := pairing.Options{State: s.state, Now: time.Now, Log: log}
	at, err := netip.ParseAddrPort(listener.Addr().String())
	if err != nil {
		return nil, nil, err
	}
	o.Port = fmt.Sprint(at.Port())
	var names []string
	if !at.Addr().IsLoopback() {
		o.Links = func() []string {
			all, err := net.InterfaceAddrs()
			if err != nil {
				log.Error("the addresses of this machine are not known", "error", err)
			}
			return links(s.scheme(), at, s.given(), all)
		}
		names = append(hostNames(), s.given()...)
	}
	p, err := pairing.New(o)
	if err != nil {
		return nil, nil, &exit{config.ExitIO, "serve: " + err.Error()}
	}
	return p, names, nil
}

// given are the names of --names, as a Host header has them.
func (s *serve) given() []string {
	var names []string
	for n := range strings.SplitSeq(s.names, ",") {
		if n = strings.ToLower(strings.TrimSpace(n)); n != "" {
			names = append(names, n)
		}
	}
	return names
}

// noName tells whether that cannot be the name of a machine (RFC 1123, section 2.1).
func noName(name string) bool {
	other := func(r rune) bool { return (r < 'a' || r > 'z') && (r < '0' || r > '9') && r != '-' && r != '.' }
	return len(name) > 253 || strings.ContainsFunc(name, other) || strings.Trim(name, "-.") != name || name == "localhost"
}

// hostNames is the name of this machine, alone and as it is found without a
// name server (RFC 6762).
func hostNames() []string {
	name, err := os.Hostname()
	name, _, _ = strings.Cut(strings.ToLower(name), ".")
	if err != nil || name == "" || name == "localhost" {
		return nil
	}
	return []string{name, name + ".local"}
}

// links are the addresses under which phones find this site: by the names that
// somebody has given, then by the addresses that this machine has now, IPv4 first,
// or else by its own name. There is one at least.
func links(scheme string, at netip.AddrPort, names []string, all []net.Addr) []string {
	var out, six []string
	for _, n := range names {
		out = append(out, fmt.Sprintf("%s%s:%d", scheme, n, at.Port()))
	}
	if !at.Addr().IsUnspecified() {
		return append(out, scheme+netip.AddrPortFrom(at.Addr().Unmap().WithZone(""), at.Port()).String())
	}
	for _, a := range all {
		p, err := netip.ParsePrefix(a.String())
		ip := p.Addr().Unmap()
		switch link := scheme + netip.AddrPortFrom(ip, at.Port()).String(); {
		case err != nil || !ip.IsGlobalUnicast():
		case ip.Is4():
			out = append(out, link)
		case !at.Addr().Is4():
			six = append(six, link)
		}
	}
	out = append(out, six...)
	if own := hostNames(); len(out) == 0 && own != nil {
		out = append(out, fmt.Sprintf("%s%s:%d", scheme, own[1], at.Port()))
	}
	if len(out) == 0 {
		out = append(out, scheme+at.String()) // no name, no network: there is nothing better to say
	}
	return out
}

// greet shows a code where phones are let in and somebody sits at a terminal. In
// a journal a code would be kept and read by others: there it is told how to ask.
func (s *serve) greet(c *call, p *pairing.Pairing) {
	if !p.Open() {
		return
	}
	if f, ok := c.out.(*os.File); !ok || !characterDevice(f) {
		fmt.Fprintln(c.err, "Phones are let in once they are paired: `mashward pair` on this machine shows a code.")
		return
	}
	i, err := p.Invite()
	if err != nil {
		fmt.Fprintln(c.err, "mashward: "+err.Error())
		return
	}
	showInvitation(c.out, c.colour, i.Code, i.Links, i.Valid)
	fmt.Fprintln(c.out, "`mashward pair` shows another. Whoever is paired may do everything; pair in a network that you trust only.")
}

func characterDevice(f *os.File) bool {
	about, err := f.Stat()
	return err == nil && about.Mode()&os.ModeCharDevice != 0
}

// showInvitation is a code, with a picture where the terminal can show one.
func showInvitation(out io.Writer, picture bool, code string, links []string, valid time.Duration) {
	fmt.Fprintf(out, "To pair a phone, scan this with it or open the address on it, within %.0f minutes, once:\n\n", valid.Minutes())
	if drawn, err := pairing.Drawn(links[0]); picture && err == nil {
		fmt.Fprintln(out, drawn)
	}
	for _, l := range links {
		fmt.Fprintln(out, "  "+l)
	}
	fmt.Fprintf(out, "\nOr open the address up to the # and type the code %s.\n", code)
}
