package notify

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"mashward/cmd/internal/notice"
	"mashward/cmd/mashward/internal/daemon"
)

// air carries connections within a bubble of testing/synctest, by the name of the
// host: its clock moves only when nobody has anything left to do, so that an hour of
// attempts takes no time and each pause is exact.
type air struct {
	mu    sync.Mutex
	hosts map[string]chan net.Conn
}

func (a *air) at(host string) chan net.Conn {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.hosts == nil {
		a.hosts = map[string]chan net.Conn{}
	}
	if a.hosts[host] == nil {
		a.hosts[host] = make(chan net.Conn)
	}
	return a.hosts[host]
}

func (a *air) dial(ctx context.Context, _, address string) (net.Conn, error) {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return nil, err
	}
	ours, theirs := net.Pipe()
	select {
	case a.at(host) <- theirs:
		return ours, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// ear is a listener on the air.
type ear struct {
	calls chan net.Conn
	once  sync.Once
	shut  chan struct{}
}

func (e *ear) Accept() (net.Conn, error) {
	select {
	case c := <-e.calls:
		return c, nil
	case <-e.shut:
		return nil, net.ErrClosed
	}
}
func (e *ear) Close() error   { e.once.Do(func() { close(e.shut) }); return nil }
func (e *ear) Addr() net.Addr { return &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 80} }

// server answers at a host.
func (a *air) server(t *testing.T, host string, h http.HandlerFunc) {
	t.Helper()
	s := &httptest.Server{Listener: &ear{calls: a.at(host), shut: make(chan struct{})}, Config: &http.Server{Handler: h}}
	s.Start()
	t.Cleanup(s.Close)
}

// misbehaved are servers that hold up or flood whoever trusts them; nobody.example
// answers no call at all.
func (a *air) misbehaved(t *testing.T) {
	t.Helper()
	a.server(t, "silent.example", func(_ http.ResponseWriter, r *http.Request) {
		_, _ = io.Copy(io.Discard, r.Body)
		<-r.Context().Done()
	})
	a.server(t, "broken.example", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(500) })
	a.server(t, "endless.example", func(w http.ResponseWriter, r *http.Request) {
		for r.Context().Err() == nil {
			if _, err := w.Write(make([]byte, 1<<10)); err != nil {
				return
			}
		}
	})
}

// mostGoroutines are those of five targets: one each and the looker, and of each
// request, one at a time, its own and both ends of its connection, which are here.
const mostGoroutines = 45

// got is what a target was told.
type got struct {
	mu    sync.Mutex
	all   []string // "title"
	at    []time.Duration
	ids   []string
	began time.Time
}

// take notes a request and answers with a status.
func (g *got) take(w http.ResponseWriter, r *http.Request, status int) {
	text, _ := io.ReadAll(r.Body)
	g.mu.Lock()
	defer g.mu.Unlock()
	g.all = append(g.all, string(text))
	g.at = append(g.at, time.Since(g.began))
	g.ids = append(g.ids, r.Header.Get("Idempotency-Key"))
	w.WriteHeader(status)
}

func (g *got) texts() []string {
	g.mu.Lock()
	defer g.mu.Unlock()
	return append([]string{}, g.all...)
}

func quiet() *slog.Logger { return slog.New(slog.DiscardHandler) }

// onAir is a notifier of some targets, reached over the air, with a kettle that does nothing.
func onAir(a *air, text string) *Notifier {
	f, faults := notice.Parse("n.yaml", []byte(text))
	if len(f.Targets) == 0 {
		panic(fmt.Sprint(faults))
	}
	return New(Options{
		File: f, Latest: func() *daemon.Snapshot {
			return &daemon.Snapshot{HeatDisabled: true, Rig: "Test kettle", Wall: time.Now()}
		},
		Now: time.Now, Log: quiet(), Chance: func() float64 { return 0.5 }, Dial: a.dial,
	})
}

func (n *Notifier) counted(t *testing.T, target string) map[string]uint64 {
	t.Helper()
	out := map[string]uint64{}
	n.Counts(func(name string, r Result, count uint64) {
		if name == target && count > 0 {
			out[r.String()] = count
		}
	})
	return out
}

// post hands a message to every target.
func (n *Notifier) post(key, state string, urgent int) {
	n.hand(Message{Kind: notice.Alarm, State: state, Urgent: urgent, key: key, fields: map[string]string{"text": key + " " + state}}, n.o.Now())
}

func bubble(t *testing.T, f func(t *testing.T, a *air)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		f(t, &air{})
		pass(2 * time.Minute) // calls that nobody answers end by themselves
	})
}

// running runs a notifier until the test ends it.
func running(t *testing.T, n *Notifier) (end func()) {
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { defer close(done); n.Run(ctx) }()
	return func() { cancel(); <-done }
}

const one = "notify: [{target: phone, url: http://phone.example/room, timeout: 10 s, headers: [{name: X-Title, value: '{title}'}]}]"

// pass lets time pass.
func pass(d time.Duration) { <-time.After(d) }
