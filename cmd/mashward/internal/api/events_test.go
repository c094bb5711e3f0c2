package api

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// pipes is a listener without a network.
type pipes struct {
	conns chan net.Conn
	over  chan struct{}
}

func (p *pipes) Accept() (net.Conn, error) {
	select {
	case c := <-p.conns:
		return c, nil
	case <-p.over:
		return nil, net.ErrClosed
	}
}

func (p *pipes) Close() error {
	close(p.over)
	return nil
}

func (p *pipes) Addr() net.Addr { return &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 80} }

// listen serves the interface over pipes, with the deadlines of a real server;
// dial opens a connection, and wrap is what stands on the server's side of it.
func (b *bench) listen() (dial func(wrap func(net.Conn) net.Conn) net.Conn, closeAll func()) {
	l := &pipes{make(chan net.Conn), make(chan struct{})}
	server := &http.Server{Handler: b.api, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 10 * time.Second, WriteTimeout: 15 * time.Second}
	go func() { _ = server.Serve(l) }()
	dial = func(wrap func(net.Conn) net.Conn) net.Conn {
		near, far := net.Pipe()
		if wrap != nil {
			far = wrap(far)
		}
		l.conns <- far
		return near
	}
	return dial, func() { _ = server.Close() }
}

// event is one server-sent event and when it came.
type event struct {
	id    uint64
	retry string
	state State
	at    time.Time
}

// hear asks for the stream and returns a function that waits for the next event.
func hear(t testing.TB, c net.Conn) (next func() (event, error)) {
	t.Helper()
	if _, err := fmt.Fprintf(c, "GET %sevents HTTP/1.1\r\nHost: localhost\r\n\r\n", Prefix); err != nil {
		t.Fatal(err)
	}
	r, err := http.ReadResponse(bufio.NewReader(c), nil)
	if err != nil {
		t.Fatal(err)
	}
	if got := r.Header.Get("Content-Type"); r.StatusCode != 200 || got != "text/event-stream" || r.Header.Get("Cache-Control") != "no-store" {
		t.Fatal(r.StatusCode, r.Header)
	}
	lines := bufio.NewReader(r.Body)
	return func() (event, error) { return readEvent(t, lines) }
}

func readEvent(t testing.TB, lines *bufio.Reader) (e event, err error) {
	t.Helper()
	for {
		line, err := lines.ReadString('\n')
		if err != nil {
			return e, err
		}
		name, value, _ := strings.Cut(strings.TrimSuffix(line, "\n"), ": ")
		switch name {
		case "":
			e.at = time.Now()
			return e, nil
		case "retry":
			e.retry = value
		case "id":
			e.id, err = strconv.ParseUint(value, 10, 64)
		case "event":
			if value != "state" {
				t.Errorf("an event called %q", value)
			}
		case "data":
			if bad := promised.fits([]byte(value), "components", "schemas", "State"); bad != nil {
				t.Error(bad)
			}
			err = json.Unmarshal([]byte(value), &e.state)
		default:
			t.Errorf("line %q", line)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

// At the speed of a real kettle: each tick is one event, a second apart, for
// longer than any deadline of the server; the whole state comes first.
func TestTheStreamGivesEachTickOnce(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		b.run("warm")
		dial, closeAll := b.listen()
		defer closeAll()
		next := hear(b, dial(nil))
		first, err := next()
		if err != nil || first.retry != "1000" || first.state.Batch == nil || first.id != first.state.Number {
			b.Fatalf("%+v %v", first, err)
		}
		before := first
		for i := range 120 {
			e, err := next()
			if err != nil {
				b.Fatalf("after %d events: %v", i, err)
			}
			if e.id != before.id+1 || e.state.Number != e.id || e.retry != "" {
				b.Fatalf("event %d after %d", e.id, before.id)
			}
			if gap := e.at.Sub(before.at); i > 0 && gap != time.Second {
				b.Fatalf("%v between two events", gap)
			}
			if *e.state.Age > 0.001 {
				b.Fatalf("a state %v s old", *e.state.Age)
			}
			before = e
		}
	})
}

func TestAFastSimulationIsThinnedOut(t *testing.T) {
	inBubble(t, settings{speed: 100}, func(b *bench) {
		dial, closeAll := b.listen()
		defer closeAll()
		next := hear(b, dial(nil))
		before, _ := next()
		for range 60 {
			e, err := next()
			if err != nil {
				b.Fatal(err)
			}
			if gap := e.at.Sub(before.at); gap < 900*time.Millisecond || gap > 920*time.Millisecond {
				b.Fatalf("%v between two events", gap)
			}
			if e.id < before.id+85 || e.id > before.id+95 {
				b.Fatalf("%d after %d", e.id, before.id)
			}
			before = e
		}
	})
}

// A loop that hangs: the stream goes on and says how old its news is.
func TestAStreamWithoutNewsStaysAliveAndSaysHowOldItIs(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		dial, closeAll := b.listen()
		defer closeAll()
		pass(5 * time.Second)
		release := b.pan.hold()
		defer release()
		pass(2 * time.Second)
		next := hear(b, dial(nil))
		before, _ := next()
		for range 30 {
			e, err := next()
			if err != nil {
				b.Fatal(err)
			}
			if gap := e.at.Sub(before.at); gap != 1200*time.Millisecond || e.id != before.id {
				b.Fatalf("%v, %d after %d", gap, e.id, before.id)
			}
			if older := *e.state.Age - *before.state.Age; older < 1.19 || older > 1.21 {
				b.Fatalf("older by %v s", older)
			}
			before = e
		}
		if *before.state.Age < 36 {
			b.Error(*before.state.Age)
		}
	})
}

func TestAtMostThirtyTwoListen(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		dial, closeAll := b.listen()
		defer closeAll()
		var conns []net.Conn
		for range MaxClients {
			c := dial(nil)
			next := hear(b, c)
			go func() {
				for {
					if _, err := next(); err != nil {
						return
					}
				}
			}()
			conns = append(conns, c)
		}
		if n := b.api.Clients(); n != MaxClients {
			b.Error(n)
		}
		w := b.get("events")
		no(b, w, http.StatusServiceUnavailable, "too-many-listeners")
		if w.Header().Get("Retry-After") == "" {
			b.Error("it does not say when")
		}
		conns[0].Close()
		synctest.Wait()
		if n := b.api.Clients(); n != MaxClients-1 {
			b.Errorf("%d after one hung up", n)
		}
		if _, err := hear(b, dial(nil))(); err != nil {
			b.Error(err)
		}
		for _, c := range conns {
			c.Close()
		}
	})
}

// swallow takes so many bytes without anyone reading them, as the buffers of
// two systems and a network do, and then no more.
type swallow struct {
	net.Conn
	room int
}

func (s *swallow) Write(p []byte) (int, error) {
	if s.room >= len(p) {
		s.room -= len(p)
		return len(p), nil
	}
	return s.Conn.Write(p) // nobody reads: it waits for its deadline
}

// A client that never reads: 5 MiB disappear into buffers, then its connection
// stands still. The loop ticks on the second all the while; the client is gone
// after its 5 s, and its place is free.
func TestAClientThatDoesNotReadIsDroppedAndNotFeltByTheLoop(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		b.run("warm")
		dial, closeAll := b.listen()
		defer closeAll()
		const room = 5 << 20
		var buffer *swallow
		c := dial(func(far net.Conn) net.Conn {
			buffer = &swallow{far, room}
			return buffer
		})
		began, from := time.Now(), b.d.Latest().Number
		if _, err := fmt.Fprintf(c, "GET %sevents HTTP/1.1\r\nHost: localhost\r\n\r\n", Prefix); err != nil {
			b.Fatal(err)
		}
		synctest.Wait()
		if n := b.api.Clients(); n != 1 {
			b.Fatal(n, "clients")
		}
		for b.api.Clients() > 0 {
			pass(10 * time.Second)
			ticks, seconds := float64(b.d.Latest().Number-from), time.Since(began).Seconds()
			if ticks < seconds-1 || ticks > seconds+1 {
				b.Fatalf("%v ticks in %v s", ticks, seconds)
			}
			if seconds > 5*3600 {
				b.Fatal("it is still there")
			}
		}
		b.Logf("gone after %v and %d bytes", time.Since(began), room-buffer.room)
		if buffer.room > 8<<10 {
			b.Errorf("it went with %d bytes to spare", buffer.room)
		}
	})
}

// A connection that stands still at once is let go after 5 s, on the clock.
func TestAWriteHasFiveSeconds(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		dial, closeAll := b.listen()
		defer closeAll()
		c := dial(nil)
		if _, err := fmt.Fprintf(c, "GET %sevents HTTP/1.1\r\nHost: localhost\r\n\r\n", Prefix); err != nil {
			b.Fatal(err)
		}
		pass(4900 * time.Millisecond)
		synctest.Wait()
		if n := b.api.Clients(); n != 1 {
			b.Error("gone early")
		}
		pass(200 * time.Millisecond)
		synctest.Wait()
		if n := b.api.Clients(); n != 0 {
			b.Error("still there")
		}
	})
}

// Over plain recorders: what the document says, HEAD, and an end with the request.
func TestTheStreamIsAsTheDocumentSays(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
		defer cancel()
		r, w := request("GET", Prefix+"events", "").WithContext(ctx), httptest.NewRecorder()
		b.api.ServeHTTP(w, r)
		promised.hold(b, r, "", w)
		if n := strings.Count(w.Body.String(), "event: state\n"); n < 10 || n > 11 {
			b.Errorf("%d events in 10 s", n)
		}
		if w := b.ask("HEAD", "events", ""); w.Code != 200 || w.Body.Len() != 0 || b.api.Clients() != 0 {
			b.Error(w.Code, w.Body.Len())
		}
	})
}
