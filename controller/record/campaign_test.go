package record

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"testing"
	"time"
)

// campaign cuts the power again and again and judges what is left.
type campaign struct {
	*truth
	fine    bool // at every byte
	sparse  bool // only with all or none of what is open
	first   bool // up to the first file that falls short
	unbound bool // storage fails too: what was confirmed is there, and no more is promised
	read    func([]byte) (found, error)
	random  *rand.Rand
	scratch []byte

	points  int
	classes map[string]int
	worst   time.Duration
	worstAt string
	faults  []string
}

// found is what a reader made of a file.
type found struct {
	upTo  int64 // bytes that it took for true
	ticks int
	sum   uint64 // over numbers, earned times and hashes of the ticks
	last  Checkpoint
}

// honest reads with the product's reader.
func honest(file []byte) (f found, err error) {
	r, err := Read(&Memory{Bytes: file})
	if err != nil {
		return f, err
	}
	for {
		f.upTo = r.offset
		b, err := r.Next()
		var damage *Damage
		if err == io.EOF || errors.As(err, &damage) {
			break
		}
		if err != nil {
			return f, err
		}
		if b.Kind == KindTick {
			f.add(&b.Tick)
		}
	}
	r, err = Read(&Memory{Bytes: file[:f.upTo]})
	if err != nil {
		return f, err
	}
	result, err := ReplayFrom(r, uint64(max(0, f.ticks-60)))
	if errors.Is(err, errTooShort) { // no checkpoint in the last minute
		r, _ = Read(&Memory{Bytes: file[:f.upTo]})
		result, err = Replay(r)
	}
	if err == nil && !result.Same() {
		err = fmt.Errorf("replay: %v %v", result.Difference, result.Drift)
	}
	if err == nil && !result.Known && f.ticks > 0 {
		err = errors.New("no state to go on from")
	}
	f.last = result.Last
	return f, err
}

func (f *found) add(t *Tick) {
	f.ticks++
	for _, x := range []uint64{t.Number, uint64(t.Earned), uint64(t.Hash)} {
		f.sum = (f.sum ^ x) * 1099511628211
	}
}

// run goes through all moments of the disk.
func (c *campaign) run(d *disk) {
	c.classes = map[string]int{}
	for i, m := range d.moments() {
		if i%everyNth != 0 && !c.first && !c.sparse {
			continue
		}
		if !m.named {
			c.absent(&m)
		}
		c.moment(&m)
		if c.first && len(c.faults) > 0 {
			return
		}
	}
}

// absent: the folder does not show the file.
func (c *campaign) absent(m *moment) {
	c.points++
	c.classes["absent"]++
	if m.sure > 0 || c.worth[m.decided] > earnedAtMost {
		c.fault("absent", m, "the file is not there, though %v were earned", c.worth[m.decided])
	}
}

// moment tries every fate of what is open.
func (c *campaign) moment(m *moment) {
	n := len(m.open) - 1
	c.point("whole", m, func(_ int, file []byte, o *op) []byte { return o.apply(file) })
	if n < 0 {
		return
	}
	c.point("dropped", m, func(_ int, file []byte, _ *op) []byte { return file })
	if c.sparse {
		return
	}
	for i := range n + 1 {
		c.point("reordered", m, func(j int, file []byte, o *op) []byte {
			if i == j {
				return file
			}
			return o.apply(file)
		})
	}
	if last := &m.open[n]; last.kind == opWrite {
		for _, b := range c.places(last) {
			c.torn(m, n, b)
		}
	}
	for range c.rounds() {
		c.point("random", m, c.anyFate(m))
	}
}

// torn: of the last write only a part arrived, up to b or from b on.
func (c *campaign) torn(m *moment, n, b int) {
	for _, fate := range []struct {
		class string
		part  func(data []byte) []byte
	}{
		{"torn", func(data []byte) []byte { return data[:b] }},
		{"zero-filled", func(data []byte) []byte { return append(bytes.Clone(data[:b]), make([]byte, len(data)-b)...) }},
		{"reordered", func(data []byte) []byte { return append(make([]byte, b), data[b:]...) }},
		{"zero-filled", func(data []byte) []byte { // one block of 512 B
			out := bytes.Clone(data)
			clear(out[b:min(b+512, len(out))])
			return out
		}},
	} {
		c.point(fate.class, m, func(i int, file []byte, o *op) []byte {
			if i < n {
				return o.apply(file)
			}
			return lay(file, o.at, fate.part(o.data))
		})
	}
}

// places are where a write is torn: at every byte, or in its middle and at
// every edge of a block of 512 B.
func (c *campaign) places(o *op) (all []int) {
	for b := range o.data {
		at := o.at + int64(b)
		if c.fine || b == len(o.data)/2 || at%512 == 0 {
			all = append(all, b)
		}
	}
	return all
}

func (c *campaign) rounds() int {
	if c.fine {
		return 20
	}
	return 1
}

// anyFate leaves every block of 512 B as it was, zeros it, fills it with an
// older file's bytes, or writes it, whole or in part.
func (c *campaign) anyFate(m *moment) func(int, []byte, *op) []byte {
	return func(_ int, file []byte, o *op) []byte {
		if o.kind == opCut {
			if c.random.IntN(2) == 0 {
				return file
			}
			return o.apply(file)
		}
		for b := 0; b < len(o.data); {
			end := min(b+512-int((o.at+int64(b))%512), len(o.data))
			part := bytes.Clone(o.data[b:end])
			switch c.random.IntN(5) {
			case 0:
				part = nil
			case 1:
				clear(part)
			case 2:
				copy(part, c.bytes[c.random.IntN(len(c.bytes)):])
			case 3:
				part = part[:c.random.IntN(len(part)+1)]
			}
			if len(part) > 0 {
				file = lay(file, o.at+int64(b), part)
			}
			b = end
		}
		return file
	}
}

// point is one power cut: it makes the file that is left, and judges it.
func (c *campaign) point(class string, m *moment, fate func(int, []byte, *op) []byte) {
	file := append(c.scratch[:0], m.safe...)
	for i := range m.open {
		file = fate(i, file, &m.open[i])
	}
	c.scratch = file
	c.points++
	c.classes[class]++
	f, err := c.read(file)
	switch {
	case errors.Is(err, ErrNoHead) && m.sure == 0:
		f = found{}
	case err != nil:
		c.fault(class, m, "%v", err)
		return
	default:
		c.judge(class, m, file, &f)
	}
	lost := c.worth[m.decided] - c.worth[min(f.ticks, m.decided)]
	if lost > c.worst {
		c.worst, c.worstAt = lost, fmt.Sprintf("%s at operation %d (%s), after tick %d", class, m.n, opNames[m.kind], m.decided)
	}
	if lost > earnedAtMost && !c.unbound {
		c.fault(class, m, "%v of earned time are lost", lost)
	}
}

// judge compares what was read with what was written.
func (c *campaign) judge(class string, m *moment, file []byte, f *found) {
	ticks, known := c.ticks[f.upTo]
	switch {
	case !known || ticks != f.ticks || f.upTo > int64(len(file)) || !bytes.Equal(file[:f.upTo], c.bytes[:f.upTo]) || f.sum != c.sums[f.ticks]:
		c.fault(class, m, "what was read, up to byte %d, is no beginning of what was written", f.upTo)
	case f.upTo < m.sure:
		c.fault(class, m, "read up to byte %d, though a sync had said that %d are safe", f.upTo, m.sure)
	case f.ticks > 0 && (f.last.State != c.states[f.ticks-1] || f.last.Guard != c.guards[f.ticks-1]):
		c.fault(class, m, "from the last checkpoint another state than after tick %d was reached", f.ticks)
	}
}

func (c *campaign) fault(class string, m *moment, format string, args ...any) {
	c.faults = append(c.faults, fmt.Sprintf("%s at operation %d (%s), after tick %d: ", class, m.n, opNames[min(int(m.kind), len(opNames)-1)], m.decided)+fmt.Sprintf(format, args...))
}

func newCampaign(tr *truth) *campaign {
	return &campaign{truth: tr, read: honest, random: rand.New(rand.NewPCG(77, 1))}
}

// report says what was done.
func (c *campaign) report(t *testing.T) {
	t.Helper()
	t.Logf("%d points %v, %d files that fell short; at worst %v of earned time lost (%s)", c.points, c.classes, len(c.faults), c.worst, c.worstAt)
	for i, f := range c.faults {
		if i == 5 {
			break
		}
		t.Error(f)
	}
}
