package main

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/deploy/yardstick"
)

// A whole test: a person arms it, the element's file goes on, the plant warms, and
// what is found is what the plant has, not what the rig declares. Its record gives
// the same tuning once more. The contactor is closed before the element is on, and
// open after the test.
func TestAWaterTestOnLinesAndProbeFindsOutAboutTheKettleBehindThem(t *testing.T) {
	folder := madeOfFiles(t, withContactor)
	x := beginTest(t, folder, variant{})
	answers(x.typist, armed...)
	x.ends(0)
	said := x.typist.Ends()
	for _, want := range []string{
		"THIS HEATS A REAL ELEMENT: Kettle of files, 3000 W.", "independent thermal cut-out with manual reset", "licensed electrician",
		"not heating; still live: isolate before opening or reaching in", "The probe reads 12.", "Never above 15 °C more than now",
		"mashward element-off --state " + filepath.Join(folder, "state"),
		"not heating; still live, the water comes to rest (1 of 3). The pump STARTS in 5 s.", "HEATING, full power (2 of 3). The pump runs. To go:",
		"not heating; still live, left alone (3 of 3)", "done. Not heating; still live: isolate before opening or reaching in.",
	} {
		if !strings.Contains(said, want) {
			t.Errorf("it does not say %q:\n%s", want, said)
		}
	}
	if strings.Contains(said+x.out.String(), "SIMULATED") {
		t.Errorf("a real one is called simulated:\n%s%s", said, x.out.String())
	}
	for _, name := range []string{"element", "contactor", "pump"} {
		if got := contents(t, folder, name); got != "0\n" {
			t.Errorf("%s shows %q in the end", name, got)
		}
	}
	found, _, err := config.LoadTuning(filepath.Join(folder, "kettle.tuning.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	// The bound of a good test: power over capacity within 3 %.
	if ratio := float64(found.Power / truePower); ratio < 0.97 || ratio > 1.03 {
		t.Errorf("%.0f W found; the plant has %.0f W, the rig declares 3000 W", found.Power, truePower)
	}
	t.Logf("%.0f W found of %.0f W, heated for %d s", found.Power, truePower, x.kettle.heated)
	if lines := contents(t, folder, "state/lines"); lines != "sysfs "+folder+"/element\nsysfs "+folder+"/contactor\nsysfs "+folder+"/pump\n" {
		t.Errorf("for element-off it leaves %q", lines)
	}
	if x.kettle.powered < 200 || x.kettle.closedLate > 0 {
		t.Errorf("power for %d s; the contactor closed on a relay that was on %d times", x.kettle.powered, x.kettle.closedLate)
	}
	if before := contents(t, folder, "kettle.tuning.yaml.before"); before != asItWas {
		t.Errorf("the tuning before is %q", before)
	}
	wantRecorded(t, folder)
}

// wantRecorded wants the one record of a good test, that fits to the same tuning.
func wantRecorded(t *testing.T, folder string) {
	t.Helper()
	records, err := filepath.Glob(filepath.Join(folder, "state/tests/*.batch"))
	if err != nil || len(records) != 1 {
		t.Fatalf("records %v, %v", records, err)
	}
	again := filepath.Join(folder, "again.yaml")
	if a := mashward("tune", "--rig", filepath.Join(folder, "rig.yaml"), "--from", records[0], "--out", again); a.code != 0 {
		t.Fatalf("%+v", a)
	}
	if first, second := contents(t, folder, "kettle.tuning.yaml"), contents(t, folder, "again.yaml"); first != second {
		t.Errorf("the record gives\n%s\nand the test gave\n%s", second, first)
	}
	if a := mashward("record", "replay", records[0]); a.code != 0 || !strings.Contains(a.out, "the same decisions") {
		t.Errorf("replay: %+v", a)
	}
	if a := mashward("record", "show", records[0]); a.code != 0 || !strings.Contains(a.out, "water test\ncomplete") {
		t.Errorf("show: %+v", a)
	}
}

// Whatever is no exact answer is no heat: no element, no pump, no file.
func TestAnythingButTheAnswersAskedForHeatsNothing(t *testing.T) {
	const ctrlD = "\x04"
	for name, all := range map[string][]string{
		"Ctrl-D at once":            {ctrlD},
		"no litres":                 {"\n"},
		"litres in words":           {"all of it\n"},
		"litres without an element": {"12\n"},
		"more than it holds":        {"51\n"},
		"a negative volume":         {"-25\n"},
		"no number":                 {"NaN\n"},
		"no to the first":           {"25\n", "no\n"},
		"yes in another way":        {"25 L\n", "yes\n", "yes\n", "y\n"},
		"nothing to the last":       {"25\n", "yes\n", "yes\n", "yes\n", "\n"},
		"Ctrl-D in a line":          {"25\n", "yes\n", "yes\n", "yes\n", "yes\n", "heat" + ctrlD + ctrlD},
		"yes instead of heat":       {"25\n", "yes\n", "yes\n", "yes\n", "yes\n", "yes\n"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			x := beginTest(t, madeOfFiles(t, testedRig), variant{})
			answers(x.typist, all...)
			x.ends(1)
			x.off()
			if x.kettle.heated > 0 || x.kettle.now > 10*time.Second {
				t.Errorf("heated for %d s of %v", x.kettle.heated, x.kettle.now)
			}
			if said := x.typist.Ends(); !strings.Contains(said, "Nothing was heated. Not heating; still live") {
				t.Errorf("it says\n%s", said)
			}
		})
	}
}

// Answers that were typed before the questions, or pasted all at once, are those
// of a script.
func TestAnswersTypedBeforeTheQuestionsDoNotCount(t *testing.T) {
	folder := madeOfFiles(t, testedRig)
	x := beginTest(t, folder, variant{})
	x.typist.Sees("litres of cold water:", 10*time.Second)
	x.typist.Types(strings.Join(armed, ""))
	// The first line is the answer to the first question; the others are gone.
	x.typist.Sees("if it is so:", 10*time.Second)
	x.typist.Types("\x04")
	x.ends(1)
	x.off()
}

// What is not a terminal cannot be asked.
func TestWithoutATerminalNothingIsHeated(t *testing.T) {
	null, err := os.OpenFile(os.DevNull, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer null.Close()
	read, write, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer read.Close()
	if _, err := write.WriteString(strings.Join(armed, "")); err != nil {
		t.Fatal(err)
	}
	write.Close()
	for name, change := range map[string]func(*tuneCall, *call){
		"a pipe with all answers": func(_ *tuneCall, c *call) { c.in = read },
		"nothing":                 func(_ *tuneCall, c *call) { c.in = null },
		"a reader":                func(_ *tuneCall, c *call) { c.in = strings.NewReader(strings.Join(armed, "")) },
		"messages in a file":      func(_ *tuneCall, c *call) { c.err = null },
	} {
		t.Run(name, func(t *testing.T) {
			x := beginTest(t, madeOfFiles(t, testedRig), variant{change: change})
			x.ends(64)
			if x.kettle != nil {
				t.Error("the lines were taken")
			}
			if got := contents(t, x.folder, "element"); got != "1\n" { // as the board left it: nobody touched it
				t.Errorf("the element's file shows %q", got)
			}
		})
	}
}

// What stands against heat is told before anything is asked.
func TestAKettleThatMayNotHeatIsNotTested(t *testing.T) {
	for name, c := range map[string]struct {
		code int
		says string
		harm func(t *testing.T, folder string)
	}{
		"a latched heat cut": {69, "a heat cut is latched (over-temperature)", func(t *testing.T, folder string) {
			putFile(t, folder, "state/latched", "over-temperature\n")
		}},
		"a state that cannot be read": {74, "latched", func(t *testing.T, folder string) {
			putFile(t, folder, "state/latched/no-file", "")
		}},
		"no relay there": {69, "the element (sysfs ", func(t *testing.T, folder string) {
			if err := os.Remove(filepath.Join(folder, "element")); err != nil {
				t.Fatal(err)
			}
		}},
		"no probe": {69, "no good reading", func(t *testing.T, folder string) {
			if err := os.RemoveAll(filepath.Join(folder, "sys")); err != nil {
				t.Fatal(err)
			}
		}},
	} {
		t.Run(name, func(t *testing.T) {
			folder := madeOfFiles(t, testedRig)
			c.harm(t, folder)
			x := beginTest(t, folder, variant{})
			x.ends(c.code)
			if said := x.typist.Ends(); !strings.Contains(said, c.says) || strings.Contains(said, "litres of cold water:") {
				t.Errorf("it says\n%s", said)
			}
			if x.kettle != nil && x.kettle.heated > 0 {
				t.Error("it heated")
			}
		})
	}
}

func putFile(t *testing.T, folder, name, text string) {
	t.Helper()
	path := filepath.Join(folder, name)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// broken is a terminal that has gone while the element is on.
type broken struct {
	kettle func() *filed
	writes int
}

// Write implements io.Writer.
func (b *broken) Write(p []byte) (int, error) {
	if k := b.kettle(); k != nil && k.heated >= 20 {
		b.writes++
		return 0, errors.New("gone")
	}
	return len(p), nil
}

// A picture that nobody can see any more ends the test: nobody may be there.
func TestAPictureThatCannotBeShownEndsTheTest(t *testing.T) {
	var x *tested
	lost := &broken{kettle: func() *filed { return x.kettle }}
	x = beginTest(t, madeOfFiles(t, testedRig), variant{
		change: func(_ *tuneCall, c *call) { c.out, c.colour = lost, true },
		pace:   func(heating bool) { waits(heating, 2*time.Millisecond) },
	})
	answers(x.typist, armed...)
	x.ends(74) // the result cannot be written either
	x.off()
	// It is drawn ten times a second, and 50 seconds of this kettle pass meanwhile.
	if x.kettle.heated < 20 || x.kettle.heated > 200 || lost.writes == 0 {
		t.Errorf("heated for %d s, %d lost writes", x.kettle.heated, lost.writes)
	}
}

// waits lets real time pass where it is to.
func waits(where bool, d time.Duration) {
	if where {
		<-time.After(d)
	}
}

// A heat cut that latches in a test is latched for whoever comes next.
func TestATripInATestIsKept(t *testing.T) {
	folder := madeOfFiles(t, testedRig)
	x := beginTest(t, folder, variant{welded: true})
	answers(x.typist, armed...)
	x.ends(1)
	x.off()
	if got := contents(t, folder, "state/latched"); got != "heating-while-off\n" {
		t.Errorf("latched is %q", got)
	}
	if said := x.out.String(); !strings.Contains(said, "the temperature rose although the element was off: isolate the kettle at the breaker now") {
		t.Errorf("it says\n%s", said)
	}
	if x.kettle.heated > 0 {
		t.Errorf("the element was switched on for %d s", x.kettle.heated)
	}
	again := beginTest(t, folder, variant{})
	again.ends(69)
}

// Seconds that are missing are no seconds of a test.
func TestATestWithoutAllItsSecondsIsNone(t *testing.T) {
	for _, away := range []time.Duration{3 * time.Second, time.Minute} {
		folder := madeOfFiles(t, testedRig)
		x := beginTest(t, folder, variant{away: away})
		answers(x.typist, armed...)
		x.ends(1)
		x.off()
		if said := x.out.String(); !strings.Contains(said, "the computer was away for more than 3 s") || !strings.Contains(said, "still live") {
			t.Errorf("away for %v it says\n%s", away, said)
		}
		records, _ := filepath.Glob(filepath.Join(folder, "state/tests/*.batch"))
		if len(records) != 1 {
			t.Fatalf("records %v", records)
		}
		wantRefused(t, folder, records[0])
	}
}

// wantRefused wants that nothing is learned from a record.
func wantRefused(t *testing.T, folder, path string) {
	t.Helper()
	if a := mashward("tune", "--rig", filepath.Join(folder, "rig.yaml"), "--from", path, "--out", filepath.Join(folder, "again.yaml")); a.code != 1 || !strings.Contains(a.err, "nothing can be learned from it") {
		t.Errorf("from %s: %+v", path, a)
	}
}

// A batch that was cut off has its mash in the kettle. Here a record of a test
// that was killed stands for that of a batch.
func TestWhereABatchIsOfferedNothingIsTested(t *testing.T) {
	folder := madeOfFiles(t, testedRig)
	x := beginTest(t, folder, variant{away: time.Minute})
	answers(x.typist, armed...)
	x.ends(1)
	records, _ := filepath.Glob(filepath.Join(folder, "state/tests/*.batch"))
	if len(records) != 1 {
		t.Fatalf("records %v", records)
	}
	putFile(t, folder, "state/records/day.batch", contents(t, folder, strings.TrimPrefix(records[0], folder)))
	again := beginTest(t, folder, variant{})
	again.ends(69)
	if said := again.typist.Ends(); !strings.Contains(said, "batch day was cut off and is offered") || strings.Contains(said, "litres of cold water:") {
		t.Errorf("it says\n%s", said)
	}
}

// The options of the one kind of kettle are no use to the other.
func TestARealTestAndASimulatedOneDoNotMix(t *testing.T) {
	for want, args := range map[string][]string{
		"add --state DIR, or --simulate":     {},
		"--seed is for the simulator":        {"--state", "s", "--seed", "1"},
		"leave out --simulate":               {"--simulate", "--state", "s"},
		"--root are for a real element":      {"--plant", "unix:x", "--root", "/tmp"},
		"a person at a terminal has to say":  {"--state", "s"},
		"60.0 L does not go: the element is": {"--state", "s", "--water", "60 L"},
	} {
		a := mashward(append([]string{"tune", "--rig", yard, "--out", filepath.Join(t.TempDir(), "t.yaml")}, args...)...)
		if a.code != 64 || !strings.Contains(a.err, want) {
			t.Errorf("%q: %+v", args, a)
		}
	}
}

// What --water says and what is read from the kettle have to be the same.
func TestTheLitresReadAreThoseOfTheCall(t *testing.T) {
	for read, goesOn := range map[string]bool{"24.9\n": true, "24\n": false} {
		x := beginTest(t, madeOfFiles(t, testedRig), variant{change: func(call *tuneCall, _ *call) { call.water = "25 L" }})
		all := []string{read}
		if goesOn {
			all = append(all, "no\n")
		}
		answers(x.typist, all...)
		x.ends(1)
		if said := x.typist.Ends(); strings.Contains(said, "if it is so:") != goesOn || strings.Contains(said, "--water says 25.0 L and you read 24.0 L") == goesOn {
			t.Errorf("with %q it says\n%s", read, said)
		}
	}
}

// An arming is good for five minutes, here too.
func TestAnswersThatTakeTooLongDoNotCount(t *testing.T) {
	outer, inner := yardstick.PseudoTerminal(t)
	defer inner.Close()
	y := yardstick.NewTypist(t, outer)
	p, err := atTerminal(t.Context(), &call{in: inner, err: inner})
	if err != nil {
		t.Fatal(err)
	}
	p.stop()
	go func() {
		y.Sees("Well?", 10*time.Second)
		close(p.late) // as the timer does
	}()
	if answer, err := p.ask("Well?"); !errors.Is(err, errTooLate) || answer != "" {
		t.Errorf("%q, %v", answer, err)
	}
	y.Types("yes\n")
	if answer, err := p.ask("Still?"); !errors.Is(err, errTooLate) || answer != "" {
		t.Errorf("%q, %v", answer, err)
	}
}

// A relay that has welded: without the contactor it would heat on.
func TestAContactorEndsAWeldedRelayInAWaterTest(t *testing.T) {
	folder := madeOfFiles(t, withContactor)
	x := beginTest(t, folder, variant{welded: true})
	answers(x.typist, armed...)
	x.ends(1)
	if got := contents(t, folder, "contactor"); got != "0\n" || x.kettle.powered < 10 || x.kettle.powered > 180 {
		t.Errorf("the contactor shows %q; the welded relay heated for %d s", got, x.kettle.powered)
	}
	if got := contents(t, folder, "state/latched"); got != "heating-while-off\n" {
		t.Errorf("latched is %q", got)
	}
}
