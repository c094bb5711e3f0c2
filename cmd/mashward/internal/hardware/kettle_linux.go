package hardware

import (
	"errors"
	"fmt"
	"io"
	"log/slog"
	"slices"
	"sync"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/wall"
	"mashward/controller"
	"mashward/controller/line"
	"mashward/controller/line/keeper"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/sensors"
	"mashward/sensors/ds248x"
	"mashward/sensors/sampler"
	"mashward/sensors/sysfs"
	"mashward/sensors/w1"
)

// Kettle is a real kettle. It implements daemon.Kettle.
type Kettle struct {
	began   time.Time
	pace    wall.Pace
	now     time.Duration // of this tick; the loop's
	probe   *sampler.Sampler
	element *held
	// nil where the rig has none
	contactor *held
	pump      *held
	closing   sync.Once
	closed    error
}

var _ daemon.Kettle = (*Kettle)(nil)

var _ loop.Wary = (*held)(nil)

// held is a line with its lease here and its driver in a keeper.
type held struct {
	*line.Leased
	keeper *keeper.Remote
}

// Applied implements loop.Element: what is not known counts as on.
func (h *held) Applied() unit.Relay {
	r, _ := h.Leased.Applied()
	return r
}

// GaveUp and TryAgain implement loop.Wary: a driver that dies again and again.
func (h *held) GaveUp() bool { return h.keeper.GaveUp() }

// TryAgain lets it be switched on again.
func (h *held) TryAgain() { h.keeper.TryAgain() }

// Close has the line off for good, and ends its keeper.
func (h *held) Close() error { return errors.Join(h.Leased.Close(), h.keeper.Close()) }

// Open takes the lines of a rig, off, and begins to read its probe. Root is where
// the tree of files begins, / on a real system. Keep is the word with which this
// program becomes a keeper, before driver and line. What keepers complain about
// goes to complaints.
func Open(rig config.Rig, root, keep string, log *slog.Logger, complaints io.Writer) (*Kettle, error) {
	if err := served(rig); err != nil {
		return nil, err
	}
	source, every, err := sourceOf(rig.Probe, root)
	if err != nil {
		return nil, err
	}
	k := &Kettle{began: time.Now()}
	taken := map[string]*held{}
	for _, p := range parts(rig, root) {
		h, err := p.take(keep, log, complaints)
		if err != nil {
			return nil, errors.Join(err, k.Close())
		}
		taken[p.what] = h
		k.element, k.contactor, k.pump = taken["element"], taken["contactor"], taken["pump"]
	}
	k.probe = sampler.Start(source, k.clock, every)
	return k, nil
}

// take starts a keeper for a line, which has it off.
func (p part) take(keep string, log *slog.Logger, complaints io.Writer) (*held, error) {
	words := []string{keep, p.line.Driver, p.line.Name}
	if p.behind {
		words = append(words, Behind)
	}
	start := func() (keeper.Conn, error) { return keeper.Process(complaints, words...) }
	r, err := keeper.Start(start, func(lost error) { noteKeeper(log, p.what, lost) })
	if err != nil {
		return nil, fmt.Errorf("the %s (%s): %w", p.what, p.line, err)
	}
	return &held{line.Lease(r), r}, nil
}

// all are the lines that were taken, the element's first.
func (k *Kettle) all() []*held {
	return slices.DeleteFunc([]*held{k.element, k.contactor, k.pump}, func(h *held) bool { return h == nil })
}

// served refuses a rig with parts that nothing here looks after: a stop button
// that is not read is worse than none.
func served(rig config.Rig) error {
	parts := []string{}
	if rig.Inputs != (config.Inputs{}) {
		parts = append(parts, "inputs")
	}
	if rig.Signals != (config.Signals{}) {
		parts = append(parts, "signals")
	}
	if len(parts) > 0 {
		return fmt.Errorf("%s: %q is declared, and mashward does not drive or read it yet: take it out of the rig, and do not rely on it", rig.File, parts)
	}
	return nil
}

func noteKeeper(log *slog.Logger, what string, lost error) {
	if lost == nil {
		log.Warn("another keeper has the line, off", "line", what)
		return
	}
	log.Error("the keeper of a line is lost: what the line does is unknown", "line", what, "error", lost)
}

// How often a probe is asked. The 1-wire chip takes 750 ms to convert.
const (
	everyChip = time.Second
	everyFile = 250 * time.Millisecond
)

// sourceOf is the thermometer of a rig.
func sourceOf(p config.Probe, root string) (s sampler.Source, every time.Duration, err error) {
	switch p.Driver {
	case "w1":
		s, err = w1.New(root, p.ID)
		return s, everyChip, err
	case "ds248x":
		s, err = ds248x.New(p.ID)
		return s, everyChip, err
	case "sysfs":
		s, err = sysfs.New(root, p.ID)
		return s, everyFile, err
	}
	return nil, 0, fmt.Errorf("probe driver %s is not built yet; w1, ds248x and sysfs are", p.Driver)
}

// clock is the run clock.
func (k *Kettle) clock() time.Duration { return time.Since(k.began) }

// Next waits for the next second.
func (k *Kettle) Next() (time.Duration, bool) {
	k.pace.Wait(1)
	k.now = k.clock()
	return k.now, true
}

// Latest is the newest reading. One that was begun since this tick began is
// dated back to it: no reading of a tick may come from after it.
func (k *Kettle) Latest() sensors.Reading {
	r := k.probe.Latest()
	r.Taken = min(r.Taken, k.now)
	return r
}

// Element is the element's line.
func (k *Kettle) Element() loop.Element { return k.element }

// Pump is the pump's line, nil where the rig has none.
func (k *Kettle) Pump() line.Line { return k.pump.line() }

// Contactor is the line of the contactor behind the element's relay, nil where the
// rig has none.
func (k *Kettle) Contactor() line.Line { return k.contactor.line() }

// line is the line as the loop drives it; nil of nothing.
func (h *held) line() line.Line {
	if h == nil {
		return nil
	}
	return h
}

// Drop takes heat and pump away, the element first. It waits for nothing; the
// contactor's keeper sees to it that this opens after the element's relay.
func (k *Kettle) Drop() {
	for _, h := range k.all() {
		h.Drop()
	}
}

// Rearm lets the lines be held again; it leaves them off. It is the loop's.
func (k *Kettle) Rearm() {
	for _, h := range k.all() {
		h.Rearm()
	}
}

// Close has all lines off for good and confirmed, the element first, and ends
// their keepers. The error says which line is not known to be off.
func (k *Kettle) Close() error {
	k.closing.Do(func() {
		k.Drop()
		if k.probe != nil {
			k.probe.Stop()
		}
		for _, h := range k.all() {
			k.closed = errors.Join(k.closed, h.Close())
		}
	})
	return k.closed
}

// Fill is for simulated kettles: a real one is filled by hand.
func (k *Kettle) Fill(profile.Profile) {}

// Restore is for simulated kettles: a real one is as it is.
func (k *Kettle) Restore(profile.Profile, controller.State) {}

// Hands is for simulated kettles: here the hands are real.
func (k *Kettle) Hands(*loop.Frame) {}

// Overruns counts ticks that were skipped.
func (k *Kettle) Overruns() uint64 { return k.pace.Missed() }

// Late is how late the ticks began.
func (k *Kettle) Late() *wall.Lateness { return k.pace.Late() }
