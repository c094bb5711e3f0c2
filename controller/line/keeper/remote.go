package keeper

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"mashward/controller/line"
	"mashward/controller/unit"
)

// Conn is a started keeper: what it is told, what it says, and its end.
type Conn interface {
	io.ReadWriteCloser // Close ends the requests, and so the keeper's service
	Kill()             // ends the keeper at once, and waits a little for it to be gone
}

// Remote is the daemon's side: the driver of a line whose real driver runs in a
// keeper. It implements line.Driver.
type Remote struct {
	start func() (Conn, error)
	note  func(error) // told when a keeper was lost and when another one is there (nil)

	now      atomic.Pointer[link]
	refused  atomic.Int32 // how often in a row the driver has failed to switch off
	losses   losses
	starting sync.Mutex // only off starts keepers: on never waits here
	failed   time.Time  // when the last start failed
	closed   bool
}

// Start starts a keeper and waits until it has the line off. Note may be nil.
func Start(start func() (Conn, error), note func(error)) (*Remote, error) {
	if note == nil {
		note = func(error) {}
	}
	r := &Remote{start: start, note: note}
	l, err := r.begin()
	if err != nil {
		return nil, err
	}
	r.now.Store(l)
	go r.watch(l)
	return r, nil
}

// Set implements line.Driver. On goes to the keeper that is there; off starts
// another one if need be, which has the line off before it says that it is ready.
func (r *Remote) Set(to unit.Relay) error {
	if to == unit.On {
		if r.GaveUp() {
			return ErrGaveUp
		}
		return r.now.Load().ask(unit.On)
	}
	l := r.now.Load()
	err := l.ask(unit.Off)
	switch {
	case err == nil:
		r.refused.Store(0)
	case errors.Is(err, ErrSilent), errors.Is(err, ErrGone), r.refused.Add(1) >= refusals:
		return r.replace(l, err)
	}
	return err
}

// replace ends a keeper that is of no use any more and starts another one.
func (r *Remote) replace(old *link, why error) error {
	r.starting.Lock()
	defer r.starting.Unlock()
	if r.closed {
		return why
	}
	if l := r.now.Load(); l != old {
		return l.ask(unit.Off) // somebody else has just done it
	}
	if time.Since(r.failed) < startPause {
		return why
	}
	if r.failed.IsZero() {
		r.losses.add(time.Now())
		r.note(why)
	}
	old.conn.Close()
	old.conn.Kill()
	l, err := r.begin()
	if err != nil {
		r.failed = time.Now()
		return fmt.Errorf("%w: %w", why, err)
	}
	r.failed = time.Time{}
	r.refused.Store(0)
	r.now.Store(l)
	go r.watch(l)
	r.note(nil)
	return nil
}

// watch has a keeper that dies replaced at once. Whatever goes wrong then is
// told whoever asks next.
func (r *Remote) watch(l *link) {
	<-l.gone
	_ = r.Set(unit.Off)
}

// begin starts a keeper and waits for it to be ready.
func (r *Remote) begin() (*link, error) {
	conn, err := r.start()
	if err != nil {
		return nil, fmt.Errorf("no keeper could be started for the line: %w", err)
	}
	l := &link{conn: conn, waits: map[uint64]chan error{}, ready: make(chan error, 1), gone: make(chan struct{})}
	go l.listen()
	late := time.NewTimer(startsWithin)
	defer late.Stop()
	select {
	case err = <-l.ready:
	case <-l.gone:
		select {
		case err = <-l.ready: // it said why before it went
		default:
			err = ErrGone
		}
	case <-late.C:
		err = ErrSilent
	}
	if err != nil {
		conn.Close()
		conn.Kill()
		return nil, err
	}
	return l, nil
}

// Close ends the keeper's service. The line must be off by then; if it is not,
// the keeper sees to it.
func (r *Remote) Close() error {
	r.starting.Lock()
	defer r.starting.Unlock()
	r.closed = true
	l := r.now.Load()
	err := l.conn.Close()
	late := time.NewTimer(line.MaxLease)
	defer late.Stop()
	select {
	case <-l.gone:
		l.conn.Kill() // it has ended: this only tidies up
		return err
	case <-late.C:
		return ErrSilent // it goes on trying to have the line off
	}
}

// link is one keeper that is asked.
type link struct {
	conn   Conn
	number atomic.Uint64
	heard  atomic.Int64 // the keeper's time of its newest answer, ms
	ready  chan error
	gone   chan struct{} // closed when it says nothing any more

	mu    sync.Mutex
	waits map[uint64]chan error // who waits for which answer
}

// ask sends one request and waits for its answer.
func (l *link) ask(to unit.Relay) error {
	select {
	case <-l.gone:
		return ErrGone
	default:
	}
	n := l.number.Add(1)
	answer := make(chan error, 1)
	l.mu.Lock()
	l.waits[n] = answer
	l.mu.Unlock()
	defer func() {
		l.mu.Lock()
		delete(l.waits, n)
		l.mu.Unlock()
	}()
	request := fmt.Sprintf("off %d\n", n)
	if to == unit.On {
		request = fmt.Sprintf("on %d %d\n", n, l.heard.Load())
	}
	if _, err := l.conn.Write([]byte(request)); err != nil {
		return fmt.Errorf("%w: %w", ErrGone, err)
	}
	late := time.NewTimer(answersWithin)
	defer late.Stop()
	select {
	case err := <-answer:
		return err
	case <-l.gone:
		return ErrGone
	case <-late.C:
		return ErrSilent
	}
}

// listen takes the answers until there are no more.
func (l *link) listen() {
	defer close(l.gone)
	lines := bufio.NewScanner(l.conn)
	lines.Buffer(make([]byte, 2*longest), 2*longest)
	for lines.Scan() && l.hear(lines.Text()) {
	}
}

// hear takes one answer; false if it makes no sense.
func (l *link) hear(text string) bool {
	kind, rest, _ := strings.Cut(text, " ")
	if kind == "failed" {
		l.tellReady(refused(rest))
		return false
	}
	var n uint64
	if kind != "ready" {
		var err error
		digits, after, _ := strings.Cut(rest, " ")
		if n, err = strconv.ParseUint(digits, 10, 64); err != nil {
			return false
		}
		rest = after
	}
	digits, reason, _ := strings.Cut(rest, " ")
	at, err := strconv.ParseInt(digits, 10, 64)
	if err != nil {
		return false
	}
	l.heard.Store(max(at, l.heard.Load())) // this goroutine alone writes it
	switch kind {
	case "ready":
		l.tellReady(nil)
	case "ok":
		l.tell(n, nil)
	case "no":
		l.tell(n, errors.New(reason))
	default:
		return false
	}
	return true
}

func (l *link) tellReady(err error) {
	select {
	case l.ready <- err:
	default: // it has been told
	}
}

func (l *link) tell(n uint64, err error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if answer := l.waits[n]; answer != nil {
		answer <- err // has room for its one answer
		delete(l.waits, n)
	}
}

// kinds are the reasons for having no line that a daemon must tell apart.
var kinds = map[string]error{"taken": line.ErrTaken, "permission": fs.ErrPermission, "missing": fs.ErrNotExist}

// refusal is a keeper's reason for having no line.
type refusal struct {
	text string
	kind error
}

func (r *refusal) Error() string { return r.text }
func (r *refusal) Unwrap() error { return r.kind }

func refused(text string) error {
	kind, reason, _ := strings.Cut(text, " ")
	return &refusal{reason, kinds[kind]}
}
