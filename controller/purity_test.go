package controller_test

import (
	"bytes"
	"encoding/binary"
	"reflect"
	"testing"
	"time"
	"unsafe"

	"mashward/controller"
	"mashward/profile"
)

func isComparable[T comparable]() {}

// A state that could not be compared could not be checked against its copy.
var _ = isComparable[controller.State]

func TestTheStateIsAPlainValueOfAtMost8Kilobytes(t *testing.T) {
	if size := unsafe.Sizeof(controller.State{}); size > 8192 {
		t.Errorf("state of %d bytes", size)
	}
	plain(t, "State", reflect.TypeFor[controller.State]())
}

// plain fails the test for whatever a copy would share or an encoding would
// lose: pointers, unexported fields, numbers whose size hangs on the machine.
func plain(t *testing.T, path string, typ reflect.Type) {
	switch typ.Kind() {
	case reflect.Struct:
		for i := range typ.NumField() {
			f := typ.Field(i)
			if !f.IsExported() {
				t.Errorf("%s.%s is not exported and would be lost", path, f.Name)
			}
			plain(t, path+"."+f.Name, f.Type)
		}
	case reflect.Array:
		plain(t, path+"[]", typ.Elem())
	case reflect.Bool, reflect.Uint8, reflect.Int32, reflect.Uint32, reflect.Uint64, reflect.Int64, reflect.Float32, reflect.Float64:
	default:
		t.Errorf("%s is a %v", path, typ.Kind())
	}
}

// restored is the state after a stop: encoded, and decoded by another process.
func restored(t testing.TB, s controller.State) controller.State {
	t.Helper()
	var b bytes.Buffer
	if err := binary.Write(&b, binary.LittleEndian, s); err != nil {
		t.Fatal(err)
	}
	var back controller.State
	if err := binary.Read(&b, binary.LittleEndian, &back); err != nil {
		t.Fatal(err)
	}
	return back
}

// recorded is a whole noisy day: what the core was told, and what it decided.
func recorded(t testing.TB, seed uint64) (c controller.Config, in []controller.Tick, out []controller.Decision) {
	t.Helper()
	c = sampleConfig()
	x := newDay(c)
	x.random, x.k.noise, x.answers = seeded(seed), 0.05, true
	x.command.Wish = controller.Start
	for !x.d.Mode.Ended() {
		if x.now > 12*time.Hour {
			t.Fatalf("the day does not end: %s", x)
		}
		if x.random.IntN(300) == 0 {
			x.mute = !x.mute && x.random.IntN(3) == 0
		}
		x.k.second(x.applied())
		tick := x.input(tick)
		x.step(tick)
		in, out = append(in, tick), append(out, x.d)
	}
	return c, in, out
}

func TestAStopAtAnyTickChangesNoDecisionAfterIt(t *testing.T) {
	for seed := range uint64(4) {
		c, in, out := recorded(t, seed)
		random := seeded(seed + 100)
		core := controller.Core{Config: c}
		s, stops := controller.Initial(), 0
		for i, tick := range in {
			if random.IntN(200) == 0 {
				back := restored(t, s)
				if back != s {
					t.Fatalf("seed %d, tick %d: decoding gives another state", seed, i)
				}
				s = back
				core = controller.Core{Config: c} // nothing may live outside the state
				stops++
			}
			var d controller.Decision
			if s, d = core.Step(s, tick); d != out[i] {
				t.Fatalf("seed %d, tick %d after %d stops: decision differs", seed, i, stops)
			}
		}
		if stops < 50 {
			t.Errorf("seed %d: stopped only %d times in %d ticks", seed, stops, len(in))
		}
	}
}

func TestEqualStateAndTickGiveEqualDecisions(t *testing.T) {
	x := along(t, sampleConfig(), profile.Rest, controller.Count)
	for range 600 {
		before := x.s
		in := x.input(tick)
		s1, d1 := x.core.Step(before, in)
		s2, d2 := x.core.Step(before, in)
		if s1 != s2 || d1 != d2 {
			t.Fatal("the same tick, two answers")
		}
		x.s, x.d = s1, d1
		x.k.second(x.applied())
	}
}

func TestAStepAllocatesNothing(t *testing.T) {
	for _, stage := range []controller.Stage{controller.Heat, controller.Count} {
		x := along(t, sampleConfig(), profile.Rest, stage)
		in := x.input(tick)
		if n := testing.AllocsPerRun(1000, func() {
			in.Now += tick
			in.Reading.Taken += tick
			x.s, x.d = x.core.Step(x.s, in)
		}); n != 0 {
			t.Errorf("%v: %v allocations a step", stage, n)
		}
	}
}

func BenchmarkStep(b *testing.B) {
	x := along(b, sampleConfig(), profile.Rest, controller.Count)
	x.s.Steps[x.s.Index].For = 1 << 62 // rest for as long as it takes
	in := x.input(tick)
	b.ReportAllocs()
	for b.Loop() {
		in.Now += tick
		in.Reading.Taken += tick
		x.s, x.d = x.core.Step(x.s, in)
	}
}
