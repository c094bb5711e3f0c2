package record

import (
	"math/rand/v2"
	"slices"
	"time"
)

// disk is storage as kernel and card make it. What is written lies in a cache
// until a sync has returned; when power fails before that, any of it may be
// there: whole, in part, later parts without earlier ones, or a length without
// its bytes. A sync that fails gives the pages up: a later one that succeeds
// does not store them.
type disk struct {
	Memory                             // as the cache shows it
	start   moment                     // before the first of ops
	ops     []op                       // all that was done to it, in order
	takes   func(opKind) time.Duration // how long an operation lasts; nil: no time
	fails   func(opKind) error         // what it ends with; nil: all goes well
	tears   *rand.Rand                 // how much of a failing append arrives
	decided func() int                 // ticks decided up to now; nil: none
}

type opKind uint8

const (
	opCreate opKind = iota // the name is there; it lasts when the folder is synced
	opFolder               // the folder is synced
	opWrite
	opCut
	opSync
)

var opNames = [...]string{"create", "folder", "write", "cut", "sync"}

// op is one operation.
type op struct {
	kind   opKind
	at     int64 // write: where; cut: the new length; sync: the length
	data   []byte
	failed bool
	done   int // ticks that were decided when it was over
}

// newDisk is a disk with one new, empty file, made as Create makes it.
func newDisk() *disk {
	d := new(disk)
	d.ops = []op{{kind: opCreate}, {kind: opFolder}}
	return d
}

// foundDisk is a disk with a file that was left there by a power cut, of which
// the first sure bytes have to be kept.
func foundDisk(file []byte, sure int64, ticks int) *disk {
	d := &disk{Memory: Memory{Bytes: slices.Clone(file)}}
	d.start = moment{named: true, safe: slices.Clone(file), sure: sure, decided: ticks}
	return d
}

// do lets the operation take its time and fail.
func (d *disk) do(o op) error {
	if d.takes != nil {
		<-time.After(d.takes(o.kind))
	}
	if d.decided != nil {
		o.done = d.decided()
	}
	var err error
	if d.fails != nil {
		err = d.fails(o.kind)
	}
	if o.failed = err != nil; o.failed && o.kind == opWrite && d.tears != nil {
		o.data = o.data[:d.tears.IntN(len(o.data)+1)]
	}
	switch {
	case o.kind == opWrite && (!o.failed || d.tears != nil):
		d.Bytes = append(d.Bytes, o.data...)
	case o.kind == opCut && !o.failed:
		d.Bytes = d.Bytes[:o.at]
	case o.failed && o.kind != opSync:
		return err // nothing came of it
	}
	d.ops = append(d.ops, o)
	return err
}

func (d *disk) Append(p []byte) error {
	return d.do(op{kind: opWrite, at: int64(len(d.Bytes)), data: slices.Clone(p)})
}

// Sync notes how much the caller may believe to be safe once it succeeds.
func (d *disk) Sync() error            { return d.do(op{kind: opSync, at: int64(len(d.Bytes))}) }
func (d *disk) Truncate(n int64) error { return d.do(op{kind: opCut, at: n}) }

// moment is the disk while one operation is under way: the power fails now.
type moment struct {
	n       int    // of the operation
	kind    opKind // and what it is
	named   bool   // the file's name lasts
	sure    int64  // bytes that a sync has said to be safe
	safe    []byte // what is there for certain
	open    []op   // what may be there or not, in order; the last is under way
	decided int    // ticks
}

// moments are all of them, and one after the last operation.
func (d *disk) moments() []moment {
	all := make([]moment, 0, len(d.ops)+1)
	now := d.start
	for n := range d.ops {
		o := &d.ops[n]
		now.n, now.kind, now.decided = n, o.kind, o.done
		if o.kind == opWrite || o.kind == opCut {
			now.open = append(slices.Clone(now.open), *o)
		}
		all = append(all, now)
		switch {
		case o.kind == opFolder:
			now.named = true
		case o.kind != opSync:
		case o.failed:
			now = forsake(now)
		default:
			now = settle(now)
			now.sure = o.at
		}
	}
	now.n = len(d.ops)
	return append(all, now)
}

// forsake marks what a failed sync has given up.
func forsake(m moment) moment {
	m.open = slices.Clone(m.open)
	for i := range m.open {
		m.open[i].failed = m.open[i].kind == opWrite
	}
	return m
}

// settle is the disk after a sync: what was written since the last one is safe,
// but for what a failed sync has given up and nobody has written again.
func settle(m moment) moment {
	var left []op
	safe := slices.Clone(m.safe)
	for i := range m.open {
		o := &m.open[i]
		if o.kind == opWrite && o.failed {
			// Its length lasts, its bytes do not.
			safe = lay(safe, o.at, make([]byte, len(o.data)))
			left = append(left, *o)
			continue
		}
		safe = o.apply(safe)
		left = slices.DeleteFunc(left, func(l op) bool { return o.covers(&l) })
	}
	m.safe, m.open = safe, left
	return m
}

// covers tells that nothing of what l wrote can show any more.
func (o *op) covers(l *op) bool {
	if o.kind == opCut {
		return o.at <= l.at
	}
	return o.at <= l.at && o.at+int64(len(o.data)) >= l.at+int64(len(l.data))
}

// apply does the operation to the bytes of a file.
func (o *op) apply(file []byte) []byte {
	if o.kind == opCut {
		return file[:min(o.at, int64(len(file)))]
	}
	return lay(file, o.at, o.data)
}

// lay puts p into the file; what lies between its end and p becomes zeros.
func lay(file []byte, at int64, p []byte) []byte {
	if gap := int(at) + len(p) - len(file); gap > 0 {
		file = append(file, make([]byte, gap)...)
	}
	copy(file[at:], p)
	return file
}
