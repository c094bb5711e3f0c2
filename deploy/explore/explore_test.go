package explore

import (
	"flag"
	"testing"

	"pgregory.net/rapid"
)

// drawn are the inputs of some checks of one size.
func drawn(t *testing.T, s Size) (all []int) {
	Check(t, s, func(t *rapid.T) { all = append(all, rapid.Int().Draw(t, "n")) })
	return all
}

// restore puts rapid's flags back, which are the process' own.
func restore(t *testing.T) {
	for _, name := range []string{"rapid.seed", "rapid.checks", "rapid.steps", "rapid.nofailfile", "rapid.shrinktime"} {
		f := flag.Lookup(name)
		before := f.Value.String()
		t.Cleanup(func() {
			if err := f.Value.Set(before); err != nil {
				t.Error(err)
			}
		})
	}
}

func TestByDayTheInputsAreTheSameAndAtNightOthers(t *testing.T) {
	restore(t)
	const n = 20 // a fifth of it with -short
	first, again := drawn(t, Size{Checks: n}), drawn(t, Size{Checks: n})
	if len(first) < n/5 || len(first) != len(again) {
		t.Fatalf("%d and %d inputs of %d", len(first), len(again), n)
	}
	for i := range first {
		if first[i] != again[i] {
			t.Fatalf("input %d is %d and %d", i, first[i], again[i])
		}
	}
	if err := flag.Set("rapid.seed", "0"); err != nil { // as it is in a process of its own
		t.Fatal(err)
	}
	night := drawn(t, Size{Checks: n, Night: true})
	if len(night) != 10*len(first) {
		t.Errorf("%d inputs at night, by day %d", len(night), len(first))
	}
	same := 0
	for i := range first {
		if first[i] == night[i] {
			same++
		}
	}
	if same == len(first) {
		t.Error("at night the inputs are those of the day")
	}
}

func TestMoreIsAskedOfTheNight(t *testing.T) {
	if day, night := (Size{}).Each(), (Size{Night: true}).Each(); day < 1 || night <= day {
		t.Errorf("each state %d times by day, %d at night", day, night)
	}
}
