package keeper

import (
	"errors"
	"io"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"mashward/controller/line"
	"mashward/controller/unit"
)

var errWire = errors.New("wire loose")

// relay is a driver that can fail and whose On can be held up.
type relay struct {
	mu    sync.Mutex
	state unit.Relay
	sets  int
	fails int           // so many of the next calls fail
	stuck chan struct{} // On waits here after it took effect
	ons   int           // how often it was switched on
	dies  func()        // with each On, after it took effect
}

func (r *relay) Set(to unit.Relay) error {
	err := r.note(to)
	if to == unit.On && r.dies != nil {
		r.dies()
	}
	if to == unit.On && r.stuck != nil {
		<-r.stuck
	}
	return err
}

func (r *relay) note(to unit.Relay) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.sets++
	if r.fails > 0 {
		r.fails--
		return errWire
	}
	if r.state != to && to == unit.On {
		r.ons++
	}
	r.state = to
	return nil
}

func (r *relay) failNext(n int) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.fails = n
}

func (r *relay) want(t *testing.T, want unit.Relay, when string) {
	t.Helper()
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.state != want {
		t.Errorf("%s the line is %v, want %v", when, r.state, want)
	}
}

// pipe is a pipe with room, as the kernel's has.
type pipe struct {
	parts  chan []byte
	rest   []byte
	closed chan struct{}
	once   sync.Once
}

func newPipe() *pipe { return &pipe{parts: make(chan []byte, 256), closed: make(chan struct{})} }

func (p *pipe) Write(b []byte) (int, error) {
	select {
	case <-p.closed:
		return 0, io.ErrClosedPipe
	default:
	}
	select {
	case p.parts <- append([]byte{}, b...):
		return len(b), nil
	case <-p.closed:
		return 0, io.ErrClosedPipe
	}
}

func (p *pipe) Read(b []byte) (int, error) {
	if len(p.rest) == 0 {
		select {
		case p.rest = <-p.parts:
		default:
			select {
			case p.rest = <-p.parts:
			case <-p.closed:
				return 0, io.EOF
			}
		}
	}
	n := copy(b, p.rest)
	p.rest = p.rest[n:]
	return n, nil
}

func (p *pipe) Close() error {
	p.once.Do(func() { close(p.closed) })
	return nil
}

// child is a keeper in this process: killed it neither hears nor says anything
// any more, and its driver is cut from the line.
type child struct {
	in, out *pipe
	driver  *cutOff
	deaf    atomic.Bool // what is sent to it nobody reads
}

// cutOff is a driver until it is cut off from the line.
type cutOff struct {
	line.Driver
	mu  sync.Mutex
	off bool
}

func (c *cutOff) isOff() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.off
}

func (c *cutOff) Set(r unit.Relay) error {
	if c.isOff() {
		return errWire
	}
	return c.Driver.Set(r)
}

func (c *child) Read(b []byte) (int, error) { return c.out.Read(b) }
func (c *child) Close() error               { return c.in.Close() }

func (c *child) Write(b []byte) (int, error) {
	if c.deaf.Load() {
		return len(b), nil
	}
	return c.in.Write(b)
}

func (c *cutOff) cut() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.off = true
}

func (c *child) Kill() {
	c.driver.cut()
	c.in.Close()
	c.out.Close()
}

// house starts keepers over one relay and remembers them.
type house struct {
	relay  *relay
	born   []*child
	mute   bool        // the next ones say nothing
	barren atomic.Bool // no further one can be started
	failed atomic.Int64
	lost   []error
}

func (h *house) start() (Conn, error) {
	if h.barren.Load() {
		h.failed.Add(1)
		return nil, errors.New("no descriptors left")
	}
	c := &child{in: newPipe(), out: newPipe(), driver: &cutOff{Driver: h.relay}}
	h.born = append(h.born, c)
	if !h.mute {
		go func() {
			_ = Serve(c.driver, c.in, c.out)
			c.out.Close()
		}()
	}
	return c, nil
}

func (h *house) note(err error) { h.lost = append(h.lost, err) }

// newest is the keeper started last.
func (h *house) newest() *child { return h.born[len(h.born)-1] }

// kept runs a test on a kept line under fake time.
func kept(t *testing.T, test func(t *testing.T, r *Remote, h *house)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		h := &house{relay: &relay{state: unit.On}} // as a board may leave it
		r, err := Start(h.start, h.note)
		if err != nil {
			t.Fatal(err)
		}
		synctest.Wait()
		h.relay.want(t, unit.Off, "once the keeper is ready")
		test(t, r, h)
		if err := r.Close(); err != nil {
			t.Errorf("Close: %v", err)
		}
		synctest.Wait()
		h.relay.want(t, unit.Off, "after Close")
		pass(2 * givesUpAfter) // what still waits, ends
	})
}

// pass lets fake time go by and everything settle.
func pass(d time.Duration) {
	<-time.After(d)
	synctest.Wait()
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Error(err)
	}
}
