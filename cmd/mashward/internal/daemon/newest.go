package daemon

import (
	"fmt"
	"os"
	"path/filepath"
	"time"

	"mashward/controller/record"
)

// lying is a record in the folder, as far as its head tells.
type lying struct {
	path     string
	order    uint64 // 0: from before there was one
	written  time.Time
	size     int64
	readable bool
}

// newest is the record of this kind of kettle that was begun last; "" if there is
// none. most is the highest order there is, of either kind.
//
// What counts is the order in the heads: a file's time changes when it is copied
// or touched, and a board without a clock battery comes up years back. Of two with
// one order, a record and a copy of it made halfway, the longer one is it. Only
// records from before there was an order go by their time of writing; and one
// whose head cannot be read, so that nobody knows what it is of, counts as the
// newest where no other was written later.
//
// A record that was begun in another folder than that of this name is not counted. If
// it would have been the newest, it is foreign.
func newest(folder, name string, simulated bool) (path, foreign string, most uint64, err error) {
	paths, err := filepath.Glob(filepath.Join(folder, "*"+RecordSuffix))
	if err != nil {
		return "", "", 0, err
	}
	var best, broken, other lying
	for _, p := range paths {
		about, err := os.Stat(p)
		if err != nil || !about.Mode().IsRegular() {
			continue
		}
		l := lying{path: p, written: about.ModTime(), size: about.Size()}
		head, err := headOf(p)
		switch {
		case err != nil:
			if broken.path == "" || !l.written.Before(broken.written) {
				broken = l
			}
			continue
		case head.Simulated == simulated:
			l.order, l.readable = head.Order, true
			of := &best
			if !ours(head, name) {
				of = &other
			}
			if l.after(*of) {
				*of = l
			}
		}
		most = max(most, head.Order)
	}
	if broken.path != "" && (best.path == "" || broken.written.After(best.written)) {
		best = broken
	}
	if other.path != "" && other.after(best) {
		foreign = other.path
	}
	return best.path, foreign, most, nil
}

// after tells whether a record was begun after another one.
func (l lying) after(o lying) bool {
	switch {
	case o.path == "" || l.order != o.order:
		return o.path == "" || l.order > o.order
	case l.order == 0:
		return !l.written.Before(o.written)
	}
	return l.size > o.size
}

// headOf reads the head of a record.
func headOf(path string) (record.Head, error) {
	f, err := record.View(path)
	if err != nil {
		return record.Head{}, err
	}
	defer f.Close()
	r, err := record.Read(f)
	if err != nil {
		return record.Head{}, err
	}
	return r.Head, nil
}

// timeNote says what the wall clock said when a process began to record, so that
// the end of a record has a time that no copying of the file changes.
const timeNote = "by its clock it was then "

func noteOf(now time.Time) string { return timeNote + now.UTC().Format(time.RFC3339) }

// timeOf reads such a note.
func timeOf(note string) (time.Time, bool) {
	t, err := time.Parse(timeNote+time.RFC3339, note)
	return t, err == nil
}

// aside is how far a file's time may be from what its record says before it is
// not believed: writing and syncing may lag, a storage that hangs by a minute.
const aside = 2 * time.Minute

// untouched tells whether the file's time is that of the last tick, by the clock
// as the record has it. Where the record does not tell there is nothing against it.
func (r *recalled) untouched() bool {
	if r.began.IsZero() {
		return true
	}
	return r.wall.Sub(r.began.Add(r.ran)).Abs() <= aside
}

// noteUnoffered says of a batch that did not end why it is not offered.
func (d *Daemon) noteUnoffered(path string, err error) {
	d.o.Log.Error("the newest record is of a batch that did not end, and it cannot be offered", "record", path, "error", err)
	d.unoffered = fmt.Sprintf("A batch did not end before mashward did, and it cannot go on: %v. Look at the kettle: it may be hot and full, with grain in it. "+
		"Its record %s is kept; begin a new batch, or move that file away when you have seen to the kettle.", err, filepath.Base(path))
}
