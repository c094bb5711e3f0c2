package daemon

import (
	"errors"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"mashward/controller"
	"mashward/controller/record"
)

// slowWarm is the warm water with a promise that its rehearsal breaks: heating 25 L by
// 8 K takes five minutes, and the rest two.
const slowWarm = profileText + `expect:
  - {step: 1, never_above: 24 °C}
  - {done_within: 3 min}
`

// notes are what the newest record of a folder has in words.
func notes(b *bench) (all []string) {
	b.Helper()
	paths, err := filepath.Glob(filepath.Join(b.records, "*"+RecordSuffix))
	if err != nil || len(paths) != 1 {
		b.Fatal(paths, err)
	}
	f, err := record.View(paths[0])
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	r, err := record.Read(f)
	for err == nil {
		var block *record.Block
		if block, err = r.Next(); err == nil && block.Kind == record.KindNote {
			all = append(all, block.Note)
		}
	}
	if !errors.Is(err, io.EOF) {
		b.Fatal(err)
	}
	return all
}

// TestABrokenPromiseIsArmedOnlyByAnOverride that opens no other gate, and is written
// down where it can be found again.
func TestABrokenPromiseIsArmedOnlyByAnOverride(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.write("warm", slowWarm)
		hash := b.hash("warm")
		over := stated()
		over.Override = true
		if _, _, err := b.d.Arm("warm", hash, over); !errors.Is(err, ErrNotRehearsed) {
			b.Error("an override in place of a rehearsal:", err)
		}
		if _, r, err := b.d.Rehearse("warm"); err != nil || r.Outcome != "complete" || r.Kept() {
			b.Fatal(r.Expectations, err)
		}
		nonce, _, err := b.d.Arm("warm", hash, stated())
		var unkept *Unkept
		if !errors.As(err, &unkept) || nonce != "" || len(unkept.Broken) != 1 || !strings.Contains(err.Error(), "done within 3 min: took 0:0") {
			b.Fatalf("armed %q: %v", nonce, err)
		}
		bare := Statements{Override: true}
		var unstated *Unstated
		if _, _, err := b.d.Arm("warm", hash, bare); !errors.As(err, &unstated) {
			b.Error("an override in place of the statements:", err)
		}
		nonce, _, err = b.d.Arm("warm", hash, over)
		if err != nil {
			b.Fatal(err)
		}
		if r, err := b.d.Begin(b.Context(), nonce); err != nil || !r.Accepted {
			b.Fatal(r, err)
		}
		s := b.mode(controller.Running)
		const told = "Armed all the same, although its rehearsal broke a promise: done within 3 min: took 0:0"
		if !slices.ContainsFunc(s.Log, func(e Entry) bool { return strings.HasPrefix(e.Text, told) }) {
			b.Errorf("the batch does not tell: %+v", s.Log)
		}
		b.mode(controller.Complete)
		b.end()
		if !slices.ContainsFunc(notes(b), func(n string) bool { return strings.HasPrefix(n, told) }) {
			b.Errorf("the record does not tell: %q", notes(b))
		}
	})
}

// TestAPromiseThatIsKeptNeedsNoOverride, and one that was given in vain is not told.
func TestAPromiseThatIsKeptNeedsNoOverride(t *testing.T) {
	inBubble(t, func(b *bench) {
		b.write("warm", strings.Replace(slowWarm, "3 min", "1 h", 1))
		hash := b.hash("warm")
		if _, r, err := b.d.Rehearse("warm"); err != nil || !r.Kept() || len(r.Expectations) != 2 {
			b.Fatal(r.Expectations, err)
		}
		for _, override := range []bool{false, true} {
			s := stated()
			s.Override = override
			if _, batch, err := b.d.Arm("warm", hash, s); err != nil || len(batch.Overridden) > 0 {
				b.Errorf("override %v: %v, %v", override, err, batch)
			}
		}
	})
}
