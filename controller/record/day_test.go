package record

import (
	"io"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/unit"
)

// A whole day: what is read is what was watched, in every field.
func TestADayIsReadAsItWasWatched(t *testing.T) {
	for _, rough := range []bool{false, true} {
		day := newToy(1)
		day.rough = rough
		k := &kept{guard: &day.loop.Guard}
		m := recorded(t, day, k)
		r := opened(t, m)
		if r.Head.Config != toyConfig() || r.Head.Limits != toyLimits() || r.Head.ProfileText != toyHead().ProfileText || r.Head.Began != toyHead().Began {
			t.Fatalf("head came back as %+v", r.Head)
		}
		n, checkpoints, ended := 0, 0, false
		for {
			b, err := r.Next()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatal(err)
			}
			switch b.Kind {
			case KindTick:
				sameTick(t, &b.Tick, k, n)
				n++
			case KindCheckpoint:
				checkpoints++
				if b.Checkpoint.State != k.states[n-1] || b.Checkpoint.Guard != k.guards[n-1] {
					t.Fatalf("checkpoint after tick %d is not the state and guard of that tick", n)
				}
			case KindEnd:
				ended = b.End == End{Mode: controller.Complete}
			}
		}
		if n != len(k.frames) || !ended || r.Torn() != 0 {
			t.Errorf("%d of %d ticks, end complete: %v, %d bytes torn", n, len(k.frames), ended, r.Torn())
		}
		if most := n/60 + 20; checkpoints < n/60 || checkpoints > most {
			t.Errorf("%d checkpoints in %d s", checkpoints, n)
		}
	}
}

func sameTick(t *testing.T, got *Tick, k *kept, n int) {
	t.Helper()
	var want Tick
	want.take(&k.frames[n])
	if len(want.Events) == 0 {
		want.Events, got.Events = nil, nil
	}
	if !reflect.DeepEqual(*got, want) {
		t.Fatalf("tick %d read as\n%+v\nwas\n%+v", n+1, *got, want)
	}
}

// The goal is 120 B a tick over a whole day, checkpoints and all. A rough day
// has readings with all digits and ticks that jitter by milliseconds.
func TestARecordTakesAtMost120BytesATick(t *testing.T) {
	for _, rough := range []bool{false, true} {
		day := newToy(2)
		day.rough = rough
		m := recorded(t, day)
		perTick := float64(len(m.Bytes)) / float64(day.n)
		t.Logf("rough %v: %d ticks (%v), %d bytes, %.1f bytes a tick, %d syncs", rough, day.n, time.Duration(day.n)*time.Second, len(m.Bytes), perTick, m.Syncs)
		if perTick > 120 {
			t.Errorf("%.1f bytes a tick", perTick)
		}
		if day.n < 4*3600 {
			t.Errorf("the day was only %d s long", day.n)
		}
	}
}

// Every leaf of what goes into a tick has to come back, also of fields that are
// added later: each is set alone to something odd.
func TestNothingOfATickIsLeftOut(t *testing.T) {
	paths := leaves(reflect.TypeFor[Tick](), nil)
	if len(paths) < 50 {
		t.Fatalf("only %d leaves found", len(paths))
	}
	for _, path := range paths {
		var in, out Tick
		in.In.Proposal.Present = true
		in.Hash = 1
		v := reflect.ValueOf(&in).Elem()
		name := v.Type().Field(path[0]).Name
		for _, i := range path {
			if v.Kind() == reflect.Struct {
				name = v.Type().Field(i).Name
				v = v.Field(i)
			} else {
				v = v.Index(i)
			}
		}
		odd(v)
		// What the interlock shares with the core stands in both.
		in.Facts.Now, in.Facts.Reading, in.Facts.Wanted, in.Facts.Applied = in.In.Now, in.In.Reading, in.Wanted, in.In.Applied
		var w, r rows
		if err := r.read(w.append(nil, &in), &out); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		out.Events = nil
		if !reflect.DeepEqual(in, out) {
			t.Errorf("%s (%v) does not come back: %+v, was %+v", name, path, out, in)
		}
	}
}

func leaves(t reflect.Type, at []int) (all [][]int) {
	switch t.Kind() {
	case reflect.Struct:
		for i := range t.NumField() {
			all = append(all, leaves(t.Field(i).Type, append(at[:len(at):len(at)], i))...)
		}
	case reflect.Array:
		for i := range t.Len() {
			all = append(all, leaves(t.Elem(), append(at[:len(at):len(at)], i))...)
		}
	case reflect.Slice: // events have their own test
	default:
		all = append(all, at)
	}
	return all
}

func odd(v reflect.Value) {
	switch {
	case v.Kind() == reflect.Bool:
		v.SetBool(true)
	case v.CanFloat():
		v.SetFloat(-61.0 / 7)
	case v.CanInt():
		v.SetInt(-987654321)
	case v.Type().String() == "unit.Relay":
		v.SetUint(1)
	default:
		v.SetUint(201)
	}
}

func TestEventsAndOddNumbersComeBackBitByBit(t *testing.T) {
	in := Tick{Number: 3, Hash: 0xFFFFFFFF}
	in.In.Reading.Value, in.Facts.Reading.Value = 85, 85
	for i, x := range []float64{0, math.Copysign(0, -1), math.Inf(1), 5e-324, -1e308, 1.0 / 3, 63} {
		in.Events = append(in.Events, controller.Event{Kind: controller.EventKind(i + 1), Step: uint8(200 + i), Value: x})
	}
	var w, r rows
	var out Tick
	if err := r.read(w.append(nil, &in), &out); err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(in, out) {
		t.Errorf("read %+v, was %+v", out, in)
	}
	nan := math.Float64frombits(0x7FF8000000000123)
	in.Number, in.Events = 4, nil
	in.In.Reading.Value = unit.Celsius(nan)
	if err := r.read(w.append(nil, &in), &out); err != nil {
		t.Fatal(err)
	}
	if got := math.Float64bits(float64(out.In.Reading.Value)); got != math.Float64bits(nan) {
		t.Errorf("a reading that is no number came back as %x", got)
	}
}

func TestTheHashSeesEveryPartOfADecision(t *testing.T) {
	paths := leaves(reflect.TypeFor[controller.Decision](), nil)
	base := hashPlain(new(controller.Decision))
	for _, path := range paths {
		var d controller.Decision
		v := reflect.ValueOf(&d).Elem()
		for _, i := range path {
			if v.Kind() == reflect.Struct {
				v = v.Field(i)
			} else {
				v = v.Index(i)
			}
		}
		odd(v)
		if hashPlain(&d) == base {
			t.Errorf("a change at %v is not seen", path)
		}
	}
}

func TestAHeadThatWouldNotComeBackIsRefused(t *testing.T) {
	h := toyHead()
	h.Config.Power = unit.Watts(math.NaN())
	if _, err := New(new(Memory), h, controller.State{}, Options{Direct: true}); err == nil || !strings.Contains(err.Error(), "has to be a number") {
		t.Errorf("a power that is no number gave %v", err)
	}
	h = toyHead()
	h.ProfileText = strings.Repeat("#", maxPayload)
	if _, err := New(new(Memory), h, controller.State{}, Options{Direct: true}); err == nil || !strings.Contains(err.Error(), "too long") {
		t.Errorf("a profile of 1 MiB gave %v", err)
	}
	m := &Memory{Bytes: []byte("something")}
	if _, err := New(m, toyHead(), controller.State{}, Options{Direct: true}); err == nil || string(m.Bytes) != "something" {
		t.Errorf("a second record in one file gave %v", err)
	}
}

func TestTheWatchAllocatesNothing(t *testing.T) {
	day := newToy(3)
	day.ticks = 3000
	m := &Memory{Bytes: make([]byte, 0, 4<<20)}
	r, err := New(m, toyHead(), day.loop.State, Options{Direct: true, Guard: &day.loop.Guard})
	if err != nil {
		t.Fatal(err)
	}
	k := &kept{guard: &day.loop.Guard}
	day.watch(k)
	i := 0
	if allocs := testing.AllocsPerRun(2500, func() {
		k.frames[i].State = &k.states[i]
		r.Watch(&k.frames[i])
		i++
	}); allocs != 0 {
		t.Errorf("%v allocations a tick", allocs)
	}
	if len(m.Bytes) < 50_000 {
		t.Errorf("only %d bytes were written", len(m.Bytes))
	}
}

func BenchmarkWatch(b *testing.B) {
	day := newToy(3)
	day.ticks = 3000
	k := &kept{guard: &day.loop.Guard}
	day.watch(k)
	m := new(Memory)
	r, err := New(m, toyHead(), controller.State{}, Options{Direct: true, Guard: &day.loop.Guard})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		k.frames[i].State = &k.states[i]
		r.Watch(&k.frames[i])
		if i++; i == len(k.frames) {
			i = 0
			m.Bytes = m.Bytes[:0]
		}
	}
}
