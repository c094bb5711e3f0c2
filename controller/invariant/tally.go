package invariant

import (
	"fmt"

	"mashward/controller/unit"
)

// Tally counts what was checked: laws about heat that is never on say nothing.
type Tally struct {
	Facts, On, Pump, Cut, Tripped int
	Modes                         [modes]int
}

func (t *Tally) add(f *Fact) {
	t.Facts++
	if f.On != unit.Off {
		t.On++
	}
	if f.Pump != unit.Off {
		t.Pump++
	}
	if f.Cut != "" {
		t.Cut++
	}
	if f.Trip != "" {
		t.Tripped++
	}
	if f.Mode < modes {
		t.Modes[f.Mode]++
	}
}

// Add is both together.
func (t Tally) Add(o Tally) Tally {
	t.Facts, t.On, t.Pump, t.Cut, t.Tripped = t.Facts+o.Facts, t.On+o.On, t.Pump+o.Pump, t.Cut+o.Cut, t.Tripped+o.Tripped
	for m := range t.Modes {
		t.Modes[m] += o.Modes[m]
	}
	return t
}

// Vacuous says why these facts show nothing: the element was on in less than a
// twentieth of them, or some state of the batch was seen less than so often. It is
// "" if they show something.
func (t Tally) Vacuous(each int) string {
	if 20*t.On < t.Facts || t.Facts == 0 {
		return fmt.Sprintf("heat in %d of %d ticks only, less than 5 %%", t.On, t.Facts)
	}
	for m, n := range t.Modes {
		if n < each {
			return fmt.Sprintf("%v in %d ticks only, want %d", Mode(m), n, each)
		}
	}
	return ""
}

// String is the count in one line.
func (t Tally) String() string {
	s := fmt.Sprintf("%d ticks, heat in %.1f %%, pump in %.1f %%, cut in %d, tripped in %d;", t.Facts,
		share(t.On, t.Facts), share(t.Pump, t.Facts), t.Cut, t.Tripped)
	for m, n := range t.Modes {
		s += fmt.Sprintf(" %v %d", Mode(m), n)
	}
	return s
}

func share(n, of int) float64 { return 100 * float64(n) / float64(max(of, 1)) }
