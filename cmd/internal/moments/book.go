package moments

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"sync"
	"time"

	"mashward/cmd/internal/ahead"
)

// Day is a batch as the calendar's book is told of it.
type Day struct {
	Batch string // its id; "": none
	Salt  string // what tells batches of other kettles apart that have the same id
	Rig   string // the kettle: one has one calendar
	Name  string
	// Simulated is said in every title: nobody has to be at a kettle that is not.
	Simulated bool
	Clock     time.Duration // of the batch: where it stands
	List      List
}

// Book remembers what the calendar said of the moments of a batch, so that each keeps
// its event while it moves. The zero value is ready; it may be used by many at once.
//
// SEQUENCE has to rise with every change, also over a restart of the program, which
// forgets the book. So it is the batch clock in seconds at the change, or one more than
// before.
type Book struct {
	mu     sync.Mutex
	batch  string
	events []kept
	begun  time.Time
}

// kept is one event with what it was made of.
type kept struct {
	Event
	id   string        // of the moment
	due  time.Duration // by the batch clock, as it was foreseen last
	as   Entry         // that Event was made of
	gone bool          // not in the newest list
}

// early is how far before its time a moment may have come and gone and still have
// happened; one that vanishes sooner was called off.
const early = 5 * time.Minute

// Calendar brings the book up to date and gives what it holds now.
func (b *Book) Calendar(d Day) Calendar {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.batch != d.Batch || b.begun.IsZero() {
		b.batch, b.events, b.begun = d.Batch, nil, d.List.Made
	}
	for i := range b.events {
		b.events[i].gone = true
	}
	for i := range d.List.Entries {
		b.enter(&d, &d.List.Entries[i])
	}
	c := Calendar{UID: "kettle-" + sum(d.Rig), Name: d.mark() + d.Name, Changed: b.begun}
	c.About = "When somebody has to be at the kettle, as it is foreseen now. Events move with the batch; a calendar fetches them seldom: the page knows better."
	for i := range b.events {
		e := &b.events[i]
		if e.gone {
			b.pass(&d, e)
		}
		if e.Changed.After(c.Changed) {
			c.Changed = e.Changed
		}
		c.Events = append(c.Events, e.Event)
	}
	return c
}

// moved is how far a moment has to move until the calendar says so, and slack how far
// its band: else each fetch would be a change.
const (
	moved = time.Minute
	slack = 3 * time.Minute
)

// same tells whether an event still says what is foreseen.
func (e *kept) same(m *Entry) bool {
	far := func(a, b time.Time, by time.Duration) bool { d := a.Sub(b); return d >= by || d <= -by }
	return !e.Cancelled && e.What == m.What && !far(e.as.At, m.At, moved) && !far(e.as.Early, m.Early, slack) && !far(e.as.Late, m.Late, slack)
}

// enter keeps a moment that is to come.
func (b *Book) enter(d *Day, m *Entry) {
	id := m.ID()
	e := b.find(id)
	if e == nil {
		b.events = append(b.events, kept{Event: Event{Sequence: -1}, id: id})
		e = &b.events[len(b.events)-1]
	}
	e.gone, e.due = false, m.Moment.At
	if e.Sequence >= 0 && e.same(m) {
		return
	}
	before := e.Sequence
	e.as = *m
	e.Event = Event{
		UID: uid(d, id), Start: about(m.At).Truncate(time.Minute), Length: length(&m.Moment),
		Title: d.mark() + Title(&m.Moment), What: m.What, Alarm: alarm(m), Sequence: before,
	}
	if band := m.Band(d.List.Made); band != "" {
		e.Band = "Foreseen " + strings.NewReplacer("(", "between ", " to ", " and ", ")", "").Replace(band)
	}
	e.touch(d)
}

// pass is a moment that is not to come any more: it was, or it was called off. Once
// called off it stays so until it is foreseen again.
func (b *Book) pass(d *Day, e *kept) {
	if off := e.due-d.Clock > early; off && !e.Cancelled {
		e.Cancelled = true
		e.touch(d)
	}
}

func (d *Day) mark() string {
	if d.Simulated {
		return "SIMULATED: "
	}
	return ""
}

func (b *Book) find(id string) *kept {
	for i := range b.events {
		if b.events[i].id == id {
			return &b.events[i]
		}
	}
	return nil
}

// touch notes a change.
func (e *kept) touch(d *Day) {
	e.Sequence = max(e.Sequence+1, int(d.Clock/time.Second))
	e.Changed = d.List.Made.Truncate(time.Second)
}

// usual is how long somebody is busy with most of it (common practice, no source).
const usual = 15 * time.Minute

// length is how long somebody is busy.
func length(m *ahead.Moment) time.Duration {
	if stay := (m.Until - m.At).Truncate(time.Minute); stay > usual {
		return stay
	}
	if m.Addition || m.Of == "chiller" || m.Of == "loop" || m.Of == "tap" {
		return 5 * time.Minute
	}
	return usual
}

// alarm rings some minutes before the earliest that it may be.
func alarm(m *Entry) time.Duration {
	return (m.At.Sub(m.Early) + 5*time.Minute).Round(time.Minute)
}

// uid is an event's name for the whole world (RFC 7986 5.3 asks for nothing in it that
// tells of the machine).
func uid(d *Day, of string) string {
	return fmt.Sprintf("%s-%s-%s", d.Batch, of, sum(d.Salt))
}

// sum stands for a text in a name.
func sum(text string) string {
	s := sha256.Sum256([]byte(text))
	return hex.EncodeToString(s[:6])
}
