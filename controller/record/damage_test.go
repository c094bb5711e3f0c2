package record

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"mashward/controller"
	"mashward/profile"
)

// short is a record of a few minutes, with a start, a step and a checkpoint.
func short(tb testing.TB) *Memory {
	day := newToy(4)
	day.wort, day.probe, day.ticks = 47, 47, 75
	return recorded(tb, day, &sayer{every: 20})
}

// told is what a reader tells of one block.
type told struct {
	kind  Kind
	bytes string
}

// tell reads a record to its end and says what was read, block by block.
func tell(r *Reader) (all []told, ends []int64, err error) {
	for {
		b, err := r.Next()
		if err != nil {
			return all, ends, err
		}
		var rest []byte
		switch b.Kind {
		case KindTick:
			var w rows
			rest = w.append(nil, &b.Tick)
		case KindStart, KindCheckpoint:
			rest = b.Checkpoint.append(nil)
		case KindGap:
			rest = appendPlain(nil, &b.Gap)
		case KindEnd:
			rest = appendPlain(nil, &b.End)
		case KindNote:
			rest = []byte(b.Note)
		case KindForecast:
			rest = b.Forecast.append(nil)
		}
		all = append(all, told{b.Kind, string(rest)})
		ends = append(ends, r.offset)
	}
}

func TestATailTornAtAnyByteIsCutToTheLastWholeBlock(t *testing.T) {
	m := short(t)
	whole, ends, err := tell(opened(t, m))
	if err != io.EOF || len(whole) < 75 {
		t.Fatalf("%d blocks, %v", len(whole), err)
	}
	n := len(ends)
	for size := ends[n-4]; size < int64(len(m.Bytes)); size++ {
		torn := &Memory{Bytes: m.Bytes[:size]}
		r := opened(t, torn)
		got, _, err := tell(r)
		if err != io.EOF {
			t.Fatalf("cut to %d: %v", size, err)
		}
		want := n - 4
		for want < n && ends[want] <= size {
			want++
		}
		if !slices.Equal(got, whole[:want]) {
			t.Fatalf("cut to %d: %d blocks, want %d", size, len(got), want)
		}
		if r.Torn() != size-ends[want-1] {
			t.Fatalf("cut to %d: %d bytes said to be torn, want %d", size, r.Torn(), size-ends[want-1])
		}
	}
}

// A power cut may also leave zeros, or the bytes of an older file, where the
// tail was to be.
func TestATailOfZerosOrRubbishIsTornToo(t *testing.T) {
	m := short(t)
	whole, _, _ := tell(opened(t, m))
	for name, tail := range map[string][]byte{"zeros": make([]byte, 700), "ones": bytes.Repeat([]byte{0xFF}, 700), "text": bytes.Repeat([]byte("mashward record 1\n"), 30)} {
		r := opened(t, &Memory{Bytes: append(bytes.Clone(m.Bytes), tail...)})
		got, _, err := tell(r)
		if err != io.EOF || !slices.Equal(got, whole) || r.Torn() != int64(len(tail)) {
			t.Errorf("%s: %d blocks of %d, %v, %d torn", name, len(got), len(whole), err, r.Torn())
		}
	}
}

// One bit turned anywhere: what is read is a true beginning, and the loss is
// said, as damage, as a torn tail, or by refusing the whole.
func TestNoFlippedBitIsReadAsTruth(t *testing.T) {
	m := short(t)
	whole, ends, _ := tell(opened(t, m))
	head := opened(t, m)
	before, k := *head, 0 // reader and number of the block that the byte is in
	inMiddle, torn := 0, 0
	for at := range m.Bytes {
		for at >= int(head.offset) && int64(at) >= ends[k] {
			before.window = nil
			before.Next()
			k++
		}
		for bit := range 8 {
			if at < int(head.offset) && bit != at%8 {
				continue // the head is long text: one bit a byte of it
			}
			bad := &Memory{Bytes: bytes.Clone(m.Bytes)}
			bad.Bytes[at] ^= 1 << bit
			if at < int(head.offset) {
				if _, err := Read(bad); err == nil {
					t.Fatalf("bit %d of byte %d turned: the head was taken", bit, at)
				}
				continue
			}
			r := before // what stands before has been read already
			r.storage, r.window, r.block.Tick.Events = bad, nil, nil
			got, _, err := tell(&r)
			if k+len(got) >= len(whole) || !slices.Equal(got, whole[k:k+len(got)]) {
				t.Fatalf("bit %d of byte %d turned: what was read was not written", bit, at)
			}
			var damage *Damage
			switch {
			case errors.As(err, &damage):
				inMiddle++
				if damage.Offset > int64(at) || damage.Lost != int64(len(m.Bytes))-damage.Offset {
					t.Fatalf("byte %d turned: %v", at, damage)
				}
			case err == io.EOF && r.Torn() > 0:
				torn++
			default:
				t.Fatalf("bit %d of byte %d turned: nothing was said (%v)", bit, at, err)
			}
		}
	}
	if share := float64(torn) / float64(torn+inMiddle); share > 0.03 {
		t.Errorf("%d of %d were taken for a torn tail", torn, torn+inMiddle)
	}
}

// Blocks that are whole but missing, doubled or out of order are damage: a
// card that drops a write must not shift time.
func TestAMissingDoubledOrSwappedBlockIsDamage(t *testing.T) {
	m := short(t)
	whole, ends, _ := tell(opened(t, m))
	a, b, c := ends[20], ends[21], ends[22]
	part := func(from, to int64) []byte { return m.Bytes[from:to] }
	end := int64(len(m.Bytes))
	for name, bad := range map[string][][]byte{
		"missing": {part(0, a), part(b, end)},
		"doubled": {part(0, b), part(a, end)},
		"swapped": {part(0, a), part(b, c), part(a, b), part(c, end)},
	} {
		got, _, err := tell(opened(t, &Memory{Bytes: bytes.Join(bad, nil)}))
		var damage *Damage
		if !errors.As(err, &damage) || !slices.Equal(got, whole[:len(got)]) || len(got) < 21 {
			t.Errorf("%s: %d blocks, %v", name, len(got), err)
		}
	}
}

func TestOpenKeepsWhatItCuts(t *testing.T) {
	m := short(t)
	path := filepath.Join(t.TempDir(), "batch.record")
	torn := m.Bytes[:len(m.Bytes)-3]
	_, ends, _ := tell(opened(t, &Memory{Bytes: torn}))
	last := ends[len(ends)-1]
	if err := os.WriteFile(path, torn, 0o600); err != nil {
		t.Fatal(err)
	}
	f, cut, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	if want := int64(len(torn)) - last; cut != want {
		t.Errorf("%d bytes cut, want %d", cut, want)
	}
	kept, err := os.ReadFile(path + ".broken")
	if err != nil || !bytes.Equal(kept, torn[last:]) {
		t.Errorf("kept %d bytes, %v", len(kept), err)
	}
	// The record goes on, and reads as one.
	if _, err := Continue(f, controller.State{Mode: controller.Offered}, Options{Direct: true}); err == nil {
		t.Fatal("a record begun with a guard went on without one")
	}
	day := newToy(5)
	r, err := Continue(f, day.loop.State, Options{Direct: true, Guard: &day.loop.Guard})
	if err != nil {
		t.Fatal(err)
	}
	day.ticks = 40
	day.watch(r)
	r.End()
	if err := r.Close(context.Background()); err != nil {
		t.Fatal(err)
	}
	v, err := View(path)
	if err != nil {
		t.Fatal(err)
	}
	defer v.Close()
	result, err := Replay(opened(t, v))
	if err != nil || !result.Same() || result.Ticks != 114 {
		t.Errorf("replay of both parts: %d ticks, %v, %v", result.Ticks, result.Difference, err)
	}
	if _, err := Create(path); !errors.Is(err, os.ErrExist) {
		t.Errorf("a second record of the same name gave %v", err)
	}
}

// A daemon that was killed may have written what nobody synced: going on takes
// it for safe, so opening has to make it so.
func TestOpeningMakesSafeWhatAKilledDaemonHadWritten(t *testing.T) {
	m := short(t)
	d := foundDisk(m.Bytes[:5000], 0, 0)
	if err := d.Append(m.Bytes[5000:]); err != nil {
		t.Fatal(err)
	}
	if cut, err := mend(d, nil); err != nil || cut != 0 {
		t.Fatal(cut, err)
	}
	now := d.moments()
	if last := now[len(now)-1]; !bytes.Equal(last.safe, m.Bytes) || len(now[0].open) != 1 {
		t.Errorf("%d bytes of %d are safe", len(last.safe), len(m.Bytes))
	}
}

func TestARecordThatHasEndedIsNotGoneOnWith(t *testing.T) {
	day := newToy(6)
	day.wishes[20] = controller.Command{Wish: controller.End}
	m := recorded(t, day)
	if _, err := Continue(m, controller.State{}, Options{Direct: true, Guard: &day.loop.Guard}); err == nil {
		t.Error("it went on")
	}
}

func TestWhatHoldsNoRecordIsRefused(t *testing.T) {
	m := short(t)
	head := opened(t, m).offset
	for size := range head {
		if _, err := Read(&Memory{Bytes: m.Bytes[:size]}); !errors.Is(err, ErrNoHead) {
			t.Fatalf("%d bytes of a head: %v", size, err)
		}
	}
}

func TestARecordWithoutItsBeginningIsRefused(t *testing.T) {
	m := short(t)
	for from := 1; from < len(m.Bytes); from++ {
		if _, err := Read(&Memory{Bytes: m.Bytes[from:]}); !errors.Is(err, ErrNoHead) {
			t.Fatalf("without its first %d bytes: %v", from, err)
		}
	}
}

func TestTheFolderOfRecordsIsMadeOrSaidNotToBe(t *testing.T) {
	top := t.TempDir()
	path := filepath.Join(top, "state", "records")
	for range 2 { // once it is there it is left as it is
		if err := Folder(path); err != nil {
			t.Fatal(err)
		}
	}
	f, err := Create(filepath.Join(path, "a.batch"))
	if err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	if err := Folder(filepath.Join(path, "a.batch")); !errors.Is(err, os.ErrExist) {
		t.Errorf("a file in its place: %v", err)
	}
	if err := Folder(filepath.Join(path, "a.batch", "b")); err == nil {
		t.Error("a file above it was taken for a folder")
	}
}

// A right sum says that the bytes are as written, not that they can be gone on
// from: a state that would make the core look beyond its arrays is refused.
func TestAStateThatCannotBeIsRefused(t *testing.T) {
	for name, spoil := range map[string]func(*controller.State){
		"step":          func(s *controller.State) { s.Index = profile.MaxSteps + 1 },
		"step to undo":  func(s *controller.State) { s.Undo.Index = profile.MaxSteps + 1 },
		"step count":    func(s *controller.State) { s.Count = profile.MaxSteps + 2 },
		"addition":      func(s *controller.State) { s.Steps[3].To = profile.MaxAdditions + 1 },
		"filter's head": func(s *controller.State) { s.Filter.Head = uint8(len(s.Filter.Ring)) },
		"filter's fill": func(s *controller.State) { s.Filter.Filled = uint8(len(s.Filter.Ring)) + 1 },
	} {
		var c, back Checkpoint
		if err := back.read(c.append(nil)); err != nil {
			t.Fatal(err)
		}
		spoil(&c.State)
		if err := back.read(c.append(nil)); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
}
