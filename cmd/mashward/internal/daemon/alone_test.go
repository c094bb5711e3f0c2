package daemon

import (
	"testing"
	"time"

	"mashward/controller"
)

// sound are facts with which a batch goes on by itself.
func sound() facts {
	return facts{
		within: 10 * time.Minute, cause: "the computer was started anew", readings: 10, span: 15 * time.Second,
		read: true, was: 62, now: 61, fallen: 1.5, length: 8 * time.Minute, known: true, stated: true,
		clock: time.Hour, lasts: controller.ArmedFor, restarts: 3, same: true, ran: true, mash: true,
	}
}

// TestEachReasonAloneKeepsABatchFromGoingOnByItself: nothing but one thing is
// wrong each time.
func TestEachReasonAloneKeepsABatchFromGoingOnByItself(t *testing.T) {
	if why := sound().against(); why != "" {
		t.Fatalf("sound facts: %s", why)
	}
	for name, spoil := range map[string]func(*facts){
		"R1 the cause is not known":        func(f *facts) { f.cause = "" },
		"R2 nine readings":                 func(f *facts) { f.readings = 9 },
		"R2 readings over 14 s":            func(f *facts) { f.span = 14 * time.Second },
		"R3 no temperature from before":    func(f *facts) { f.read = false },
		"R3 colder than can be":            func(f *facts) { f.now = f.was.Plus(-f.fallen - 1.01) },
		"R3 warmer than before":            func(f *facts) { f.now = f.was + 1.01 },
		"R3 no number":                     func(f *facts) { f.now /= 0 * f.now },
		"R4 the outage is not known":       func(f *facts) { f.known = false },
		"R4 longer than chosen":            func(f *facts) { f.length = f.within + time.Second },
		"R4 longer than may be chosen":     func(f *facts) { f.within, f.length = time.Hour, 31*time.Minute },
		"R4 a clock that went back":        func(f *facts) { f.length = -time.Second },
		"R5 the volume is in doubt":        func(f *facts) { f.stated = false },
		"R6 not chosen":                    func(f *facts) { f.within = 0 },
		"R6 the arming has run out":        func(f *facts) { f.clock = controller.ArmedFor - f.length },
		"R6 STOP":                          func(f *facts) { f.stops = 1 },
		"R7 a heat cut is latched":         func(f *facts) { f.tripped = true },
		"R7 a fourth restart":              func(f *facts) { f.restarts = 4 },
		"R7 rig, profile or program":       func(f *facts) { f.same = false },
		"held or paused before":            func(f *facts) { f.ran = false },
		"in the boil, or from the lift on": func(f *facts) { f.mash = false },
	} {
		f := sound()
		spoil(&f)
		if f.against() == "" {
			t.Errorf("%s: it goes on by itself", name)
		}
	}
	if (facts{}).against() == "" {
		t.Error("of nothing known, it goes on by itself")
	}
}
