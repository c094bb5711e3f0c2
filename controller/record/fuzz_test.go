package record

import (
	"bytes"
	"errors"
	"io"
	"slices"
	"testing"

	"mashward/controller"
)

// FuzzRecord reads bytes of any kind: as a whole file, and as payloads of
// blocks with right sums behind a right head, which random bytes would never
// get past. Nothing may panic, and what a tick is read as must read the same
// when written again.
func FuzzRecord(f *testing.F) {
	m := short(f)
	head := opened(f, m)
	f.Add(m.Bytes[:head.offset+1000])
	for rest := m.Bytes[head.offset:]; len(rest) > 0; {
		b, _, _ := cut(rest)
		f.Add(append([]byte{byte(b.kind), byte(len(b.payload))}, b.payload...))
		if rest = rest[b.size:]; b.kind == KindCheckpoint {
			break
		}
	}
	state := controller.State{Index: 255}
	check := Checkpoint{State: state}
	f.Add(append([]byte{byte(KindStart), 255}, check.append(nil)...))
	f.Fuzz(func(t *testing.T, p []byte) {
		if r, err := Read(&Memory{Bytes: p}); err == nil {
			walkThrough(t, r.storage)
		}
		made, sum := append([]byte{}, m.Bytes[:head.offset]...), head.sum
		for len(p) > 1 {
			kind, n := Kind(p[0]%byte(kindEnd)), min(int(p[1]), len(p)-2)
			if p[1] == 255 {
				n = len(p) - 2
			}
			made, sum = seal(made, sum, kind, p[2:2+n])
			p = p[2+n:]
		}
		walkThrough(t, &Memory{Bytes: made})
	})
}

// walkThrough does with a record all that can be done with one.
func walkThrough(t *testing.T, s Storage) {
	r, err := Read(s)
	if err != nil {
		t.Fatalf("the head could be read and then not: %v", err)
	}
	var was, again rows
	for {
		b, err := r.Next()
		if err != nil {
			break
		}
		switch b.Kind {
		case KindStart, KindGap:
			was, again = rows{}, rows{}
		case KindTick:
			var twice Tick
			if err := again.read(was.append(nil, &b.Tick), &twice); err != nil {
				t.Fatalf("a tick that was read cannot be written: %v", err)
			}
		}
	}
	for _, from := range []uint64{0, 1 << 20} {
		if r, err := Read(s); err == nil {
			_, _ = ReplayFrom(r, from) // only that it returns
		}
	}
	if r, err := Read(s); err == nil {
		_ = ExportCSV(io.Discard, r)
	}
	if r, err := Read(s); err == nil {
		if _, err := Summarize(r); err != nil {
			t.Fatal(err)
		}
	}
}

// FuzzDamage changes a true record: bits turned, bytes zeroed, cut off, doubled
// or moved. What is read is a true beginning of it, or the whole is refused.
func FuzzDamage(f *testing.F) {
	m := short(f)
	whole, ends, _ := tell(opened(f, m))
	size := uint16(len(m.Bytes))
	for op := range byte(5) {
		f.Add([]byte{op, byte(size / 2), byte(size / 2 >> 8), 40, 0})
		f.Add([]byte{op, byte(ends[9]), byte(ends[9] >> 8), byte(ends[10] - ends[9]), 0, op + 1, 3, 0, 1, 0})
	}
	f.Fuzz(func(t *testing.T, script []byte) {
		file := bytes.Clone(m.Bytes)
		for ; len(script) >= 5 && len(file) > 0 && len(file) < 1<<20; script = script[5:] {
			at := (int(script[1]) | int(script[2])<<8) % len(file)
			end := min(at+(int(script[3])|int(script[4])<<8), len(file))
			switch script[0] % 5 {
			case 0:
				file[at] ^= 1 << (script[3] % 8)
			case 1:
				clear(file[at:end])
			case 2:
				file = slices.Delete(file, at, end)
			case 3:
				file = slices.Insert(file, at, bytes.Clone(file[at:end])...)
			case 4:
				file = append(slices.Delete(file, at, end), file[at:end]...)
			}
		}
		r, err := Read(&Memory{Bytes: file})
		if err != nil {
			return // refused: the head is not as it was
		}
		got, _, err := tell(r)
		var damage *Damage
		switch {
		case len(got) > len(whole) || !slices.Equal(got, whole[:len(got)]):
			t.Fatalf("%d blocks were read that are no beginning of the %d written", len(got), len(whole))
		case err != io.EOF && !errors.As(err, &damage):
			t.Fatal(err)
		case damage == nil && r.offset+r.Torn() != int64(len(file)):
			t.Fatalf("read up to byte %d, %d torn, of %d: the rest is not spoken of", r.offset, r.Torn(), len(file))
		case damage != nil && damage.Offset+damage.Lost != int64(len(file)):
			t.Fatalf("%v, of %d", damage, len(file))
		}
		if cut, err := mend(&Memory{Bytes: file}, func(io.Reader) error { return nil }); err != nil || cut != int64(len(file))-r.offset {
			t.Fatalf("mending cut %d of %d after %d: %v", cut, len(file), r.offset, err)
		}
	})
}
