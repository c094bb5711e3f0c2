package web

import (
	"io"
	"net"
	"net/http"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

// pipes is a listener of connections within the process.
type pipes struct {
	come   chan net.Conn
	closed chan struct{}
}

func (p pipes) Accept() (net.Conn, error) {
	select {
	case c := <-p.come:
		return c, nil
	case <-p.closed:
		return nil, net.ErrClosed
	}
}

func (p pipes) Close() error   { close(p.closed); return nil }
func (p pipes) Addr() net.Addr { return &net.TCPAddr{} }

// Whoever sends a byte now and then keeps a place from STOP for so long and no
// longer: 5 s for what he asks, 10 s with its body, 5 s until he asks again.
func TestWhoeverDribblesLosesHisPlace(t *testing.T) {
	for name, c := range map[string]struct {
		first string
		then  string // each second
		limit time.Duration
	}{
		"nothing at all":     {"", "", HeaderTimeout},
		"half a request":     {"GET / HTTP/1.1\r\nHost: x\r\n", "", HeaderTimeout},
		"a header a second":  {"GET / HTTP/1.1\r\n", "X: y\r\n", HeaderTimeout},
		"a body by the byte": {"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 1000\r\n\r\n", "x", ReadTimeout + WriteTimeout},
	} {
		synctest.Test(t, func(t *testing.T) {
			server := Server(http.NotFoundHandler())
			l := pipes{make(chan net.Conn), make(chan struct{})}
			done := make(chan struct{})
			go func() { defer close(done); _ = server.Serve(l) }()
			mine, theirs := net.Pipe()
			l.come <- theirs
			began := time.Now()
			gone := make(chan time.Duration, 1)
			go func() { _, _ = io.Copy(io.Discard, mine); gone <- time.Since(began) }()
			var writing sync.WaitGroup
			writing.Go(func() {
				text := c.first
				for {
					if text != "" {
						if _, err := io.WriteString(mine, text); err != nil {
							return
						}
					}
					if text = c.then; text == "" {
						return
					}
					<-time.After(time.Second)
				}
			})
			if took := <-gone; took > c.limit {
				t.Errorf("%s: a place for %v, more than %v", name, took, c.limit)
			}
			mine.Close()
			server.Close()
			<-done
			writing.Wait()
		})
	}
}
