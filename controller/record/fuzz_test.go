package record

import (
	"io"
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
