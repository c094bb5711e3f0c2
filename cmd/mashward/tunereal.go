package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/hardware"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/line"
	"mashward/controller/record"
	"mashward/controller/unit"
	"mashward/profile/plan"
	"mashward/sensors"
)

// realKettle is a kettle whose element really heats. Drop takes all its lines off
// at once and waits for nothing; Close has them off and confirmed.
type realKettle interface {
	rehearse.Tested
	io.Closer
	Contactor() line.Line // nil where the rig has none
	Drop()
}

// onHardware is a kettle of real lines: what cuts its supply ends this program
// too, and its pacer does not end.
type onHardware struct{ *hardware.Kettle }

// PowerLost implements rehearse.Tested.
func (onHardware) PowerLost() bool { return false }

// Err implements rehearse.Tested.
func (onHardware) Err() error { return nil }

// openReal takes the lines of a rig, off, and its probe.
func (t *tuneCall) openReal(rig config.Rig, complaints io.Writer) (realKettle, error) {
	k, err := hardware.Open(rig, t.root, keepWord, slog.New(slog.NewTextHandler(complaints, nil)), complaints)
	if err != nil {
		return nil, err
	}
	return onHardware{k}, nil
}

// real tells that the test heats a real element.
func (t *tuneCall) real() bool { return !t.simulate && t.plant == "" && t.from == "" }

// testsFolder is where in the folder of the state tests are recorded: apart from
// batches, for none of them is gone on with after a power cut.
const testsFolder = "tests"

// notHeated is a test that never began.
func notHeated(why error) error {
	return &exit{exitShort, "tune: not armed: " + why.Error() + ". Nothing was heated. " + capitalLive}
}

// capitalLive is what not heating means, as a sentence.
const capitalLive = "Not heating; still live: isolate before opening or reaching in."

// testReal runs the water test on the rig's own element. Its lines are taken
// first, off, so that nobody answers questions about a kettle that another
// process heats.
func (t *tuneCall) testReal(c *call, f *found) (err error) {
	ctx, stop := interruptible()
	defer stop()
	p, err := atTerminal(ctx, c)
	if err != nil {
		return usage("tune: %v", err)
	}
	defer p.stop()
	if t.root, err = filepath.Abs(t.root); err != nil {
		return err
	}
	if err := record.Folder(filepath.Join(t.state, testsFolder)); err != nil {
		return err
	}
	unlock, err := lockState(t.state)
	if err != nil {
		return err
	}
	defer unlock()
	kettle, err := t.open(f.rig, c.err)
	if err != nil {
		return device(err)
	}
	closed := false
	shut := func() error {
		closed = true
		return kettle.Close()
	}
	defer func() { // a panic on its way too: heat off before anything else
		if !closed {
			err = errors.Join(err, shut())
		}
	}()
	if err := t.mayHeat(); err != nil {
		return err
	}
	if err := writeLines(t.state, hardware.Lines(f.rig, t.root)); err != nil {
		return err
	}
	ready := readyTest{rig: f.rig, state: t.state, wants: t.stated}
	if ready.reading, err = firstReading(kettle); err != nil {
		return &exit{exitDevice, "tune: " + err.Error()}
	}
	if f.water, err = p.arm(&ready); err != nil {
		return notHeated(err)
	}
	p.stop()
	return t.heat(ctx, c, f, kettle, shut)
}

// heat is the test itself, armed. The lines are off and given back when it
// returns, or it says that one of them is not.
func (t *tuneCall) heat(ctx context.Context, c *call, f *found, kettle realKettle, shut func() error) error {
	ctx, end := context.WithCancelCause(ctx)
	defer end(nil)
	path, storage, err := t.newRecord()
	if err != nil {
		return err
	}
	trial := rehearse.Trial{Rig: f.rig, Water: f.water, Kettle: kettle, Storage: storage, Latch: t.latch(c.err)}
	trial.Head = record.Head{Program: version(), Began: t.now().UTC().Format(time.RFC3339), Profile: "water test", RigText: f.rigText}
	show := newLive(c, f, trial.Known())
	show.heats(c, t.format, end)
	trial.Watchers = append(trial.Watchers, show)
	out, err := trial.Go(ctx)
	if off := shut(); off != nil {
		return &exit{config.ExitIO, "tune: ended, and a line is not known to be off: isolate the element at the breaker. " + errors.Join(err, off).Error()}
	}
	show.finish(howEnded(out))
	if err != nil {
		return device(fmt.Errorf("tune: %w. Nothing is stored. %s", err, capitalLive))
	}
	if out.Unstored != nil {
		fmt.Fprintf(c.err, "mashward: the record of the test is not whole: %v\n", out.Unstored)
	} else {
		f.record = path
	}
	f.judge(out)
	if cause := context.Cause(ctx); errors.Is(cause, errUnseen) {
		f.reason = cause.Error()
	}
	return nil
}

// mayHeat refuses where a heat cut is latched, and where a batch waits to be
// gone on with: its mash is in the kettle.
func (t *tuneCall) mayHeat() error {
	path := filepath.Join(t.state, latchedFile)
	text, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if names := strings.Fields(string(text)); len(names) > 0 {
		return &exit{exitDevice, fmt.Sprintf("tune: a heat cut is latched (%s): find its cause, then clear it on the page of `mashward serve --state %s`. %s",
			strings.Join(names, ", "), t.state, capitalLive)}
	}
	batch, err := daemon.CutOff(filepath.Join(t.state, recordsFolder))
	if err != nil {
		return err
	}
	if batch != "" {
		return &exit{exitDevice, fmt.Sprintf("tune: batch %s was cut off and is offered: go on with it or end it first, on the page of `mashward serve --state %s`. %s",
			batch, t.state, capitalLive)}
	}
	return nil
}

// newRecord makes the file that the test is recorded in.
func (t *tuneCall) newRecord() (path string, s record.Storage, err error) {
	path = filepath.Join(t.state, testsFolder, t.now().UTC().Format("20060102-150405")+recordSuffix)
	file, err := record.Create(path)
	if err != nil {
		return "", nil, err
	}
	return path, file, nil
}

// latch keeps what has tripped in a test, so that no other start forgets it.
func (t *tuneCall) latch(complaints io.Writer) func(*interlock.Guard) {
	return func(g *interlock.Guard) {
		names := daemon.Tripped(g)
		if names == "" {
			return
		}
		if err := record.Replace(filepath.Join(t.state, latchedFile), []byte(names)); err != nil {
			fmt.Fprintf(complaints, "mashward: a latched heat cut may not survive a restart: %v\n", err)
		}
	}
}

// firstReading waits for the probe, for ten ticks.
func firstReading(k realKettle) (unit.Celsius, error) {
	const fresh = 5 * time.Second
	for range 10 {
		now, ok := k.Next()
		if r := k.Latest(); ok && r.Good() && r.Age(now) <= fresh {
			return r.Value, nil
		}
	}
	return 0, fmt.Errorf("%w (%s)", rehearse.ErrNoReading, faultOf(k.Latest()))
}

// faultOf is what is wrong with a reading.
func faultOf(r sensors.Reading) string {
	if r.Fault == sensors.None {
		return "it is too old"
	}
	return r.Fault.String()
}

// readyTest is a water test before it is armed: what its questions are about.
type readyTest struct {
	rig     config.Rig
	state   string
	reading unit.Celsius
	wants   unit.Litres // as the call said; 0: it did not
}

// caution is all that has to be known before the questions.
func (t *readyTest) caution() string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	words, test := say.ToArm(), controller.DefaultTest()
	line("\nTHIS HEATS A REAL ELEMENT: %s, %.0f W.", t.rig.Name, t.rig.Element.Power)
	line("Full power until the water is %.0f °C warmer, then %s of quiet: some half an hour. Never above %.0f °C more than now.", test.Rise, say.Length(test.Quiet), rehearse.Above)
	if t.rig.Pump.Present() {
		line("The pump starts first, %s after a warning, and runs all the time: its hoses must lead back into the kettle.", say.Length(controller.PumpWarning))
	}
	line("Ctrl-C ends it: heat and pump go off, and nothing is stored.")
	line("If this computer dies with the element on: mashward element-off --state %s", t.state)
	line("")
	for _, text := range append(words.Real, plan.Cautions(t.rig.PlanKettle().Relay)...) {
		line("%s", text)
	}
	line("%s", words.Stay)
	line("Now: %s.", say.StillLive)
	line("\nThe probe reads %.1f °C. %s", t.reading, hot(float64(t.reading)))
	line("Fill about half the kettle, %.0f L, with cold water: from %.1f L on, and no more than %.1f L.", t.rig.Kettle.Capacity/2, leastWater(t.rig), t.rig.Kettle.Capacity)
	line("%s Anything but the answer asked for ends this without heat.\n", words.GoThere)
	return b.String()
}

// fits tells why a test cannot be made with that much water.
func (t *readyTest) fits(water unit.Litres) error {
	const reading = 0.01 // of the volume: as well as a dipstick is read
	if t.wants > 0 && !(math.Abs(float64(water-t.wants)) <= reading*float64(t.wants)) {
		return fmt.Errorf("--water says %.1f L and you read %.1f L: correct the fill, or the option", t.wants, water)
	}
	return waterFits(t.rig, water)
}

// hands is what a water test asks beyond what a batch does.
func (t *readyTest) hands() string {
	return "The water covers the element and the probe, the lid is on, and nobody will reach into the kettle."
}

// last is the last look before heat.
func (t *readyTest) last(water unit.Litres) string {
	return fmt.Sprintf("\n%.1f L of water in %s. The element will heat within some minutes of this, by itself.", water, t.rig.Name)
}
