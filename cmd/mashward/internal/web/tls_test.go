package web

import (
	"bufio"
	"crypto/tls"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

// placed is a connection between two addresses.
type placed struct {
	net.Conn
	local, remote string
}

func (p placed) LocalAddr() net.Addr  { return tcp(p.local) }
func (p placed) RemoteAddr() net.Addr { return tcp(p.remote) }

func tcp(address string) net.Addr {
	a, _ := net.ResolveTCPAddr("tcp", address)
	return a
}

// With a certificate phones speak HTTPS, and the machine itself goes on with
// HTTP, by the same port.
func TestHTTPSIsForThoseFromBeyond(t *testing.T) {
	lend := httptest.NewTLSServer(nil) // for its certificate
	defer lend.Close()
	var said strings.Builder
	server := Server(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { fmt.Fprint(w, r.TLS != nil) }))
	server.ErrorLog.SetOutput(complaints{&said})
	l := pipes{make(chan net.Conn), make(chan struct{})}
	doors := NewDoors(MaxConnections)
	doors.TLS = lend.TLS.Clone()
	doors.TLS.NextProtos = nil
	done := make(chan struct{})
	go func() { defer close(done); _ = server.Serve(doors.Limit(l)) }()
	ask := func(local, remote, host string, secure bool) string {
		t.Helper()
		mine, theirs := net.Pipe()
		defer mine.Close()
		l.come <- placed{theirs, local, remote}
		if secure {
			mine = tls.Client(mine, &tls.Config{InsecureSkipVerify: true}) // whose it is matters nothing here
		}
		go fmt.Fprintf(mine, "GET / HTTP/1.1\r\nHost: %s\r\nConnection: close\r\n\r\n", host)
		answer, err := http.ReadResponse(bufio.NewReader(mine), nil)
		if err != nil {
			t.Error(err)
			return ""
		}
		body, _ := io.ReadAll(answer.Body)
		return fmt.Sprint(answer.StatusCode, " ", string(body))
	}
	for _, c := range []struct {
		local, remote, host string
		secure              bool
		want                string
	}{
		{"192.0.2.2:8973", "192.0.2.9:5", "192.0.2.2:8973", true, "200 true"},
		{"192.0.2.2:443", "192.0.2.9:5", "192.0.2.2", true, "200 true"},
		{"127.0.0.1:8973", "127.0.0.1:5", "localhost:8973", false, "200 false"},
		{"192.0.2.2:8973", "192.0.2.9:5", "192.0.2.2:8973", false, "400 Client sent an HTTP request to an HTTPS server.\n"},
		{"192.0.2.2:8973", "192.0.2.9:5", "evil.example:8973", true, "421"},
	} {
		if got := ask(c.local, c.remote, c.host, c.secure); !strings.HasPrefix(got, c.want) {
			t.Errorf("%+v: %q", c, got)
		}
	}
	server.Close()
	<-done
	if said.Len() > 0 {
		t.Errorf("any visitor can fill the log: %q", said.String())
	}
}
