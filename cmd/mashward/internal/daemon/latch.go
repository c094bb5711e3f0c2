package daemon

import (
	"errors"
	"io/fs"
	"os"
	"strings"

	"mashward/controller/interlock"
	"mashward/controller/record"
)

// latch keeps a text on disk over a restart: which rules have tripped, so that none
// clears one, also of a batch that is over, and of no batch at all; and what is armed
// for later. It is written beside the tick, which never waits for it.
type latch struct {
	path string
	last string
	next chan string   // capacity 1: the newest counts
	gone chan struct{} // closed when all is written
}

// Tripped names the rules that have, one a line: what is kept.
func Tripped(g *interlock.Guard) string {
	var names strings.Builder
	for _, r := range interlock.Rules() {
		if g.Marks[r].State >= interlock.Tripped {
			names.WriteString(r.String() + "\n")
		}
	}
	return names.String()
}

// latchAgain trips what had tripped before the restart. A file that names what
// no rule is called is no reason to heat: then every trip is taken to stand.
func (d *Daemon) latchAgain() {
	d.latch.path = d.o.Latched
	if d.o.Latched == "" {
		return
	}
	text, err := os.ReadFile(d.o.Latched)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		d.o.Log.Error("which heat cuts had latched is not known: see to the file, and clear what is shown", "error", err)
		text = []byte("unreadable")
	}
	for _, name := range strings.Fields(string(text)) {
		d.trip(name)
	}
	d.latch.last = string(text)
}

// trip marks the rule of that name as tripped; of a strange name, the one that
// says that something makes no sense.
func (d *Daemon) trip(name string) {
	rule := interlock.Implausible
	for _, r := range interlock.Rules() {
		if r.String() == name {
			rule = r
		}
	}
	d.loop.Guard.Marks[rule].State = interlock.Tripped
}

// keepLatched hands over what has tripped.
func (d *Daemon) keepLatched() { d.latch.put(Tripped(&d.loop.Guard)) }

// put hands over what is to be kept, when that has changed. It never waits.
func (l *latch) put(now string) {
	if l.next == nil || now == l.last {
		return
	}
	l.last = now
	select {
	case <-l.next: // an older one that nobody has written yet
	default:
	}
	l.next <- now // there is room: nobody else puts anything in
}

// begin starts the one who writes; failed tells of what could not be.
func (l *latch) begin(failed func(error)) {
	if l.path == "" {
		return
	}
	l.next, l.gone = make(chan string, 1), make(chan struct{})
	go func() {
		defer close(l.gone)
		for text := range l.next {
			if err := record.Replace(l.path, []byte(text)); err != nil {
				failed(err)
			}
		}
	}()
}

// end waits until all is written.
func (l *latch) end() {
	if l.next != nil {
		close(l.next)
		<-l.gone
	}
}

// beginLatch starts those who write.
func (d *Daemon) beginLatch() {
	d.latch.begin(func(err error) { d.o.Log.Error("a latched heat cut may not survive a restart", "error", err) })
	d.pending.begin(func(err error) {
		d.o.Log.Error("after a restart nobody may be told of what was armed for later", "error", err)
	})
}

// endLatch waits until all is written.
func (d *Daemon) endLatch() {
	d.latch.end()
	d.pending.end()
}
