package record

import (
	"errors"
	"io"
	"math/rand/v2"
	"testing"
	"time"
)

// A campaign that cannot fail is worth nothing: each of these faults, planted
// between the record and the disk, or in the reader, must be found.
func TestTheCampaignFindsEveryPlantedFault(t *testing.T) {
	k, head := brief(1)
	tr := wholeRecord(t, k, head)
	for name, plant := range map[string]func(*disk) (Storage, func([]byte) (found, error)){
		"never syncs":            func(d *disk) (Storage, func([]byte) (found, error)) { return &lazy{disk: d, every: 1 << 30}, honest },
		"leaves out every other": func(d *disk) (Storage, func([]byte) (found, error)) { return &lazy{disk: d, every: 2}, honest },
		"syncs in the wrong order": func(d *disk) (Storage, func([]byte) (found, error)) {
			return &early{disk: d}, honest
		},
		"asks again after a failed sync": func(d *disk) (Storage, func([]byte) (found, error)) {
			n := 0
			d.fails = func(kind opKind) error {
				if n++; kind == opSync && n%20 == 0 {
					return errCard
				}
				return nil
			}
			return &gullible{disk: d}, honest
		},
		"never makes its name last": func(d *disk) (Storage, func([]byte) (found, error)) {
			d.ops = d.ops[:1]
			return d, honest
		},
		"reads without looking at sums": func(d *disk) (Storage, func([]byte) (found, error)) { return d, credulous },
		"refuses a torn end":            func(d *disk) (Storage, func([]byte) (found, error)) { return d, strict },
		"makes a tick up":               func(d *disk) (Storage, func([]byte) (found, error)) { return d, inventive },
		"reads one block too few":       func(d *disk) (Storage, func([]byte) (found, error)) { return d, timid },
		"hands out an older state":      func(d *disk) (Storage, func([]byte) (found, error)) { return d, stale },
	} {
		d := newDisk()
		storage, read := plant(d)
		if err := written(t, k, head, d, storage, hurried(4)); err != nil {
			t.Fatal(err)
		}
		c := newCampaign(tr)
		c.read, c.first = read, !*night
		c.run(d)
		if len(c.faults) == 0 {
			t.Errorf("a recorder that %s passes all %d points", name, c.points)
			continue
		}
		t.Logf("%s: %d of %d points, %v lost; %s", name, len(c.faults), c.points, c.worst, c.faults[0])
	}
}

// lazy leaves syncs out.
type lazy struct {
	*disk
	every, n int
}

func (l *lazy) Sync() error {
	if l.n++; l.n%l.every == 0 || l.n == 1 {
		return l.disk.Sync()
	}
	return nil
}

// early syncs before it writes instead of after.
type early struct{ *disk }

func (e *early) Append(p []byte) error { return errors.Join(e.disk.Sync(), e.disk.Append(p)) }
func (e *early) Sync() error           { return nil }

// gullible believes a second sync.
type gullible struct{ *disk }

func (g *gullible) Sync() error {
	if g.disk.Sync() == nil {
		return nil
	}
	return g.disk.Sync()
}

// credulous takes every block that can be cut out and decoded.
func credulous(file []byte) (found, error) {
	f, err := honest(file)
	if err != nil {
		return f, err
	}
	r, err := Read(&Memory{Bytes: file[:f.upTo]})
	for err == nil {
		_, err = r.Next()
	}
	for rest := file[f.upTo:]; ; {
		b, need, bad := cut(rest)
		if bad != nil || need != 0 || r.decode(b) != nil {
			return f, nil
		}
		if rest = rest[b.size:]; b.kind == KindTick {
			f.add(&r.block.Tick)
		}
		f.upTo += int64(b.size)
	}
}

// strict refuses a file whose end is torn.
func strict(file []byte) (found, error) {
	f, err := honest(file)
	if err == nil && f.upTo != int64(len(file)) {
		err = io.ErrUnexpectedEOF
	}
	return f, err
}

// inventive adds a tick where the end is torn.
func inventive(file []byte) (found, error) {
	f, err := honest(file)
	if err == nil && f.upTo != int64(len(file)) {
		f.add(&Tick{Number: uint64(f.ticks + 1), Earned: time.Minute})
	}
	return f, err
}

// timid leaves the last block out.
func timid(file []byte) (found, error) {
	r, err := Read(&Memory{Bytes: file})
	if err != nil {
		return found{}, err
	}
	_, ends, _ := tell(r)
	if len(ends) < 2 {
		return honest(file)
	}
	return honest(file[:ends[len(ends)-2]])
}

// stale gives the state of a checkpoint for that of the last tick.
func stale(file []byte) (found, error) {
	f, err := honest(file)
	if err != nil {
		return f, err
	}
	r, err := Read(&Memory{Bytes: file})
	for err == nil {
		var b *Block
		if b, err = r.Next(); err == nil && b.Kind == KindCheckpoint {
			f.last = b.Checkpoint
		}
	}
	return f, nil
}

// Storage that tears appends, and fails syncs and cuts, while power may also
// fail at any point: what a sync has confirmed is there, and is true.
func TestWhatIsConfirmedSurvivesStorageThatFailsToo(t *testing.T) {
	k, head := brief(2)
	tr := wholeRecord(t, k, head)
	d := newDisk()
	random, n := rand.New(rand.NewPCG(5, 5)), 0
	d.tears = rand.New(rand.NewPCG(5, 6))
	d.fails = func(opKind) error {
		if n++; n > 4 && n < 600 && random.IntN(4) == 0 {
			return errCard
		}
		return nil
	}
	if err := written(t, k, head, d, d, hurried(6)); err != nil {
		t.Fatal(err)
	}
	failed, cuts, most := 0, 0, 0
	for _, o := range d.ops {
		if o.failed {
			failed++
		}
		if o.kind == opCut {
			cuts++
		}
	}
	c := newCampaign(tr)
	c.unbound = true
	for _, m := range d.moments() {
		most = max(most, len(m.open))
	}
	c.run(d)
	c.report(t)
	if failed < 40 || cuts < 20 || most < 4 {
		t.Errorf("%d operations failed, %d cuts were made, at most %d writes were open: less than was to be tried", failed, cuts, most)
	}
}
