package main

import (
	"bytes"
	"errors"
	"net"
	"net/http/httptest"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"mashward/cmd/mashward/internal/pairing"
	"mashward/cmd/mashward/internal/web"
)

// Beyond this machine only where phones can be paired, and that takes a folder.
func TestServeReachesBeyondThisMachineOnlyWithAFolderForPhones(t *testing.T) {
	for _, c := range []struct {
		listen, state, names string
		says                 string // "": it may start
	}{
		{"127.0.0.1:8973", "", "", ""},
		{"[::1]:8973", "state", "", ""},
		{"0.0.0.0:8973", "state", "", ""},
		{":8973", "state", "kettle.lan, Pot.example", ""},
		{"192.0.2.2:8973", "state", "", ""},
		{"0.0.0.0:8973", "", "", "add --state"},
		{":8973", "", "", "add --state"},
		{"[::]:8973", "", "", "add --state"},
		{"192.0.2.2:8973", "", "", "add --state"},
		{"kettle.local:8973", "state", "", "no address to listen on"},
		{"8973", "state", "", "no address to listen on"},
		{"127.0.0.1:8973", "state", "kettle.lan", "--names are for phones"},
		{"0.0.0.0:8973", "state", "http://kettle.lan", "write host names"},
		{"0.0.0.0:8973", "state", "localhost", "write host names"},
		{"0.0.0.0:8973", "state", "kettle.lan.", "write host names"},
		{"0.0.0.0:8973", "state", "a b", "write host names"},
	} {
		err := (&serve{listen: c.listen, state: c.state, names: c.names}).reach()
		var e *exit
		if said := errors.As(err, &e); said != (c.says != "") || said && (e.code != exitUsage || !strings.Contains(e.text, c.says)) {
			t.Errorf("%+v: %v", c, err)
		}
	}
	for _, s := range []serve{{listen: "0.0.0.0:1", state: "s", cert: "c"}, {listen: "0.0.0.0:1", state: "s", key: "k"}, {listen: defaultAddress, cert: "c", key: "k"}} {
		if err := s.reach(); err == nil || !strings.Contains(err.Error(), "--tls-cert") {
			t.Errorf("%+v: %v", s, err)
		}
	}
	if a := mashward("serve", "--rig", yard, "--simulate", "--listen", "0.0.0.0:0"); a.code != exitUsage || !strings.Contains(a.err, "--state") {
		t.Errorf("%+v", a)
	}
}

func TestLinksAreThoseThatAPhoneCanOpen(t *testing.T) {
	own := hostNames()
	addr := func(all ...string) (out []net.Addr) {
		for _, a := range all {
			ip, n, err := net.ParseCIDR(a)
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, &net.IPNet{IP: ip, Mask: n.Mask})
		}
		return out
	}
	home := addr("127.0.0.1/8", "::1/128", "fe80::1/64", "fd00::2/64", "192.0.2.2/24", "169.254.1.1/16")
	for _, c := range []struct {
		at    string
		names []string
		all   []net.Addr
		want  string
	}{
		{"192.0.2.2:8973", []string{"kettle.lan"}, home, "http://kettle.lan:8973 http://192.0.2.2:8973"},
		{"[fd00::2]:80", nil, home, "http://[fd00::2]:80"},
		{"[fe80::1%eth0]:80", nil, home, "http://[fe80::1]:80"},
		{"[::]:8973", nil, home, "http://192.0.2.2:8973 http://[fd00::2]:8973"},
		{"0.0.0.0:8973", []string{"kettle.lan"}, home, "http://kettle.lan:8973 http://192.0.2.2:8973"},
		{"[::]:8973", []string{"kettle.lan"}, nil, "http://kettle.lan:8973"},
	} {
		if got := strings.Join(links("http://", netip.MustParseAddrPort(c.at), c.names, c.all), " "); got != c.want {
			t.Errorf("%s: %s, want %s", c.at, got, c.want)
		}
	}
	if got := links("https://", netip.MustParseAddrPort("[::]:8973"), nil, nil); own != nil && strings.Join(got, " ") != "https://"+own[1]+":8973" {
		t.Errorf("without a network: %q", got)
	}
}

func TestPairShowsACodeListsAndRevokes(t *testing.T) {
	f := newFort(t)
	server := httptest.NewServer(web.Guard(f.pairing.Door(f.inside)))
	defer server.Close()
	at := strings.TrimPrefix(server.URL, "http://")
	if a := mashward("pair", "--at", at); a.code != 0 || !strings.Contains(a.out, "http://192.0.2.2:8973/pair#") || !strings.Contains(a.out, "within 10 minutes, once") || strings.Contains(a.out, "\x1b") {
		t.Errorf("%+v", a)
	}
	if a := mashward("pair", "--at", at, "--list"); a.code != 0 || a.out != "No phone is paired.\n" {
		t.Errorf("%+v", a)
	}
	f.pair("Sofa")
	id := f.pairing.Phones()[0].ID
	if a := mashward("pair", "--at", at, "--list"); a.code != 0 || !strings.HasPrefix(a.out, id+"  20") || !strings.HasSuffix(a.out, "  Sofa\n") {
		t.Errorf("%+v", a)
	}
	if a := mashward("pair", "--at", at, "--revoke", "x"); a.code != exitShort || !strings.Contains(a.err, "no such phone") {
		t.Errorf("%+v", a)
	}
	if a := mashward("pair", "--at", at, "--revoke", id); a.code != 0 || len(f.pairing.Phones()) != 0 {
		t.Errorf("%+v", a)
	}
	a := mashward("pair", "--at", at, "--token", "Calendar")
	known := "Authorization: Bearer " + strings.TrimSpace(a.out)
	if w := f.ask(owner, "GET", "/api/v1/state", "", known); a.code != 0 || w.Code != 200 || f.pairing.Phones()[0].Name != "Calendar" {
		t.Errorf("%+v %d", a, w.Code)
	}
	for _, e := range []ending{
		{exitUsage, "is not an address of this machine", []string{"pair", "--at", "192.0.2.2:8973"}},
		{exitUsage, "one at a time", []string{"pair", "--list", "--revoke", "x"}},
		{exitUsage, "takes no words", []string{"pair", "x"}},
		{exitDevice, "no daemon answers", []string{"pair", "--at", "127.0.0.1:1"}},
	} {
		e.check(t)
	}
}

// In a journal a code would be kept: it is shown on a terminal alone.
func TestACodeIsNotPrintedIntoAPipe(t *testing.T) {
	p, err := pairing.New(pairing.Options{State: t.TempDir(), Links: func() []string { return []string{"http://192.0.2.2:8973"} }, Port: "8973", Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	var out, said bytes.Buffer
	(&serve{}).greet(&call{out: &out, err: &said}, p)
	if out.Len() > 0 || strings.Contains(said.String(), "#") || !strings.Contains(said.String(), "mashward pair") {
		t.Errorf("%q %q", out.String(), said.String())
	}
	(&serve{}).greet(&call{out: &out, err: &out}, pairing.Closed())
	if out.Len() > 0 {
		t.Errorf("%q", out.String())
	}
}

// A broken token to scrape with must not open the metrics: serve does not start.
func TestServeDoesNotStartWithAScrapeTokenThatOthersCanRead(t *testing.T) {
	state := t.TempDir()
	if err := os.WriteFile(filepath.Join(state, pairing.ScrapeFile), []byte(strings.Repeat("a", 43)), 0o644); err != nil {
		t.Fatal(err)
	}
	if a := mashward("serve", "--rig", yard, "--simulate", "--state", state, "--listen", "0.0.0.0:0"); a.code == 0 || !strings.Contains(a.err, "chmod 600") {
		t.Errorf("%+v", a)
	}
}
