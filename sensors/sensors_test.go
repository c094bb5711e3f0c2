package sensors

import (
	"testing"
	"time"
)

// TestOnlyAReadingWithoutFaultIsGood: the zero value, which nobody has measured,
// is none, and neither is a fault that nobody knows.
func TestOnlyAReadingWithoutFaultIsGood(t *testing.T) {
	if (Reading{}).Good() {
		t.Error("a reading that was never taken is good")
	}
	for f := range Fault(20) {
		if got := (Reading{Value: 63, Fault: f}).Good(); got != (f == None) {
			t.Errorf("%v: good %v", f, got)
		}
	}
}

// TestAReadingFromTheFutureHasANegativeAge, so that a caller can tell.
func TestAReadingFromTheFutureHasANegativeAge(t *testing.T) {
	for taken, want := range map[time.Duration]time.Duration{0: time.Minute, time.Minute: 0, 61 * time.Second: -time.Second} {
		if got := (Reading{Taken: taken}).Age(time.Minute); got != want {
			t.Errorf("taken at %v it is %v old after a minute; want %v", taken, got, want)
		}
	}
}

// TestEveryFaultHasAWordOfItsOwn.
func TestEveryFaultHasAWordOfItsOwn(t *testing.T) {
	seen := map[string]Fault{}
	for f := NoReading; f <= Bus; f++ {
		if other, twice := seen[f.String()]; twice || f.String() == "" {
			t.Errorf("%d and %d are both %q", f, other, f)
		}
		seen[f.String()] = f
	}
	if got := Fault(200).String(); got != "unknown fault" {
		t.Errorf("a fault that nobody knows is %q", got)
	}
}
