package pairing

import (
	"context"
	"net"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"strings"
	"testing"
	"time"

	"mashward/cmd/mashward/internal/web"
)

// FuzzWhatAStrangerSends brings whatever it likes as Host, token, path and code,
// from beyond this machine, and must reach nothing but STOP, the page to pair
// and its files; by no Host but ours.
func FuzzWhatAStrangerSends(f *testing.F) {
	h := newHall(f, f.TempDir())
	_, token := h.pair("Sofa")
	invited, err := h.Invite()
	if err != nil {
		f.Fatal(err)
	}
	for _, seed := range [][5]string{
		{"192.0.2.2:8973", "", "", "/", ""},
		{"vm.local:8973", "scale=F", "Bearer x", "/api/v1/start", "0000-0000"},
		{"evil.example:8973", "", "", "/stop", ""},
		{"[::ffff:192.0.2.2]:8973", "mashward_phone_8973=", "Bearer ", "/static/../api/v1/state", "----"},
		{"192.0.2.2.:8973", "mashward_phone_8973=\"", "Basic eA==", "//stop", "ÄÖÜ"},
		{"192.0.2.2:8973", "mashward_phone_8973=" + strings.Repeat("A", 43), "", "/metrics", "ABCD-EFGH"},
		{"VM:8973", "", "bearer\t", "/pair", "\x00"},
	} {
		f.Add(seed[0], seed[1], seed[2], seed[3], seed[4])
	}
	end := &net.TCPAddr{IP: net.ParseIP("192.0.2.2"), Port: 8973}
	f.Fuzz(func(t *testing.T, host, cookie, authorization, path, code string) {
		if strings.Contains(cookie+authorization, token) {
			t.Skip("it has the token")
		}
		for _, method := range []string{"GET", "POST"} {
			reached := false
			r := &http.Request{
				Method: method, Host: host, URL: &url.URL{Path: path}, RemoteAddr: sofa, Header: http.Header{"Cookie": {cookie}, "Authorization": {authorization}},
				Body: http.NoBody,
			}
			r = r.WithContext(context.WithValue(context.Background(), http.LocalAddrContextKey, net.Addr(end)))
			in := http.HandlerFunc(func(http.ResponseWriter, *http.Request) { reached = true })
			w := httptest.NewRecorder()
			web.Guard(h.Door(in), "vm", "vm.local").ServeHTTP(w, r)
			if !reached {
				continue
			}
			if !mine(host) {
				t.Fatalf("reached by the Host %q", host)
			}
			may := method == "POST" && (path == "/stop" || path == "/api/v1/stop" || path == "/pair" || path == "/api/v1/pair") ||
				method == "GET" && (path == "/pair" || strings.HasPrefix(path, "/static/") && strings.Count(path, "/") == 2)
			if !may {
				t.Fatalf("%s %q is reached", method, path)
			}
		}
		h.now = h.now.Add(time.Hour)
		if letters := plain(invited.Code); plain(code) == letters {
			t.Skip("it has the code")
		}
		if _, _, err := h.Pair(netip.MustParseAddr(known), code, cookie); err == nil {
			t.Fatalf("paired by %q", code)
		}
	})
}

// mine is what a Host may be, said apart from package web.
func mine(host string) bool {
	name, port, err := net.SplitHostPort(host)
	if err != nil || port != "8973" {
		return false
	}
	ip := net.ParseIP(name)
	return strings.EqualFold(name, "vm") || strings.EqualFold(name, "vm.local") || ip != nil && ip.Equal(net.ParseIP("192.0.2.2"))
}
