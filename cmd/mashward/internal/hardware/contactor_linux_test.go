package hardware

import (
	"path/filepath"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/controller/line"
	"mashward/controller/unit"
)

// withContactor is a kettle of files with a contactor behind the element's relay.
func withContactor(t *testing.T) config.Rig {
	t.Helper()
	r := rig(t)
	r.Contactor = config.Relay{Driver: "sysfs", Line: filepath.Join(filepath.Dir(r.Element.Relay.Line), "contactor")}
	put(t, r.Contactor.Line, "1\n") // as a board may leave it
	return r
}

// opened watches a file until it shows off, and tells when.
func opened(t *testing.T, path string) <-chan time.Time {
	t.Helper()
	when := make(chan time.Time, 1)
	go func() {
		tick := time.NewTicker(time.Millisecond)
		defer tick.Stop()
		for range 10000 {
			if shows(t, path) == "0" {
				break
			}
			<-tick.C
		}
		when <- time.Now()
	}()
	return when
}

// TestTheContactorOpensAfterTheElementHoweverBothAreToldOff: seen by the files,
// which are looked at each millisecond on a busy machine. All is off at first.
func TestTheContactorOpensAfterTheElementHoweverBothAreToldOff(t *testing.T) {
	for name, off := range map[string]func(*testing.T, config.Rig, *Kettle){
		"dropped": func(_ *testing.T, _ config.Rig, k *Kettle) { k.Drop() },
		"closed": func(t *testing.T, _ config.Rig, k *Kettle) {
			if err := k.Close(); err != nil {
				t.Error(err)
			}
		},
		"nobody asks for heat any more": func(*testing.T, config.Rig, *Kettle) {},
		"element-off": func(t *testing.T, r config.Rig, _ *Kettle) {
			for _, err := range Off(Lines(r, "/"), 0) {
				if err == nil {
					t.Error("no word of the keeper that holds a line")
				}
			}
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			r := withContactor(t)
			k, err := open(r)
			if err != nil {
				t.Fatal(err)
			}
			defer k.Close()
			want(t, r, "0", "0", "once it is ours")
			if shows(t, r.Contactor.Line) != "0" {
				t.Error("the contactor is closed at a start")
			}
			for what, l := range map[string]line.Line{"contactor": k.Contactor(), "element": k.Element()} {
				if err := l.Hold(unit.On, line.MaxLease); err != nil {
					t.Errorf("%s: %v", what, err)
				}
			}
			if shows(t, r.Contactor.Line) != "1" || shows(t, r.Element.Relay.Line) != "1" {
				t.Fatal("they do not close")
			}
			element, contactor := opened(t, r.Element.Relay.Line), opened(t, r.Contactor.Line)
			began := time.Now()
			off(t, r, k)
			first, second := <-element, <-contactor
			between := second.Sub(first)
			t.Logf("%-30s element off after %4d ms, contactor %3d ms later", name, first.Sub(began).Milliseconds(), between.Milliseconds())
			if between < line.Pause/2 || between > line.Pause+time.Second {
				t.Errorf("the contactor opens %v after the element, want %v", between, line.Pause)
			}
		})
	}
}

// Where the element's line cannot be switched, the contactor opens all the same:
// that is what it is there for.
func TestTheContactorOpensWhereTheElementCannotBeSwitched(t *testing.T) {
	r := withContactor(t)
	r.Element.Relay.Line += "-gone"
	failed := Off(Lines(r, "/"), 0)
	if len(failed) != 3 || failed[0] == nil || failed[1] != nil || failed[2] != nil {
		t.Errorf("off: %v", failed)
	}
	if shows(t, r.Contactor.Line) != "0" {
		t.Error("the contactor is closed")
	}
}

// A rig without one has none: the loop must not be handed a line that is nothing.
func TestARigWithoutContactorAndPumpHasNoSuchLines(t *testing.T) {
	r := rig(t)
	r.Pump = config.Pump{}
	k, err := open(r)
	if err != nil {
		t.Fatal(err)
	}
	defer k.Close()
	if k.Contactor() != nil || k.Pump() != nil {
		t.Errorf("contactor %v, pump %v", k.Contactor(), k.Pump())
	}
}
