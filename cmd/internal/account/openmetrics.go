package account

import (
	"errors"
	"fmt"
	"io"
	"time"

	"mashward/cmd/internal/metricset"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/record"
)

// ErrNoBeginning is the error of a record that does not say when it was begun.
var ErrNoBeginning = errors.New("the record does not say at what time it began, for its computer had no clock: say it with --start 2026-01-10T08:00:00Z")

// OpenMetrics writes a record as the metrics that a scrape every 15 s would have seen, in
// the text form of OpenMetrics 1.0 with its times. Start is when it was armed; the zero
// time: when it says itself, ErrNoBeginning where it does not. What a record does not hold
// (the parts of the law, the rate of a heat-up, forecasts, the process) is left out. A
// damaged record is written as far as it goes, with its end mark, and the error is its
// *record.Damage; other errors are the storage's and the writer's.
func OpenMetrics(w io.Writer, r *record.Reader, start time.Time) error {
	if start.IsZero() {
		var err error
		if start, err = time.Parse(time.RFC3339, r.Head.Began); err != nil || start.Unix() < 0 {
			return ErrNoBeginning
		}
	}
	day, config := dayOf(r.Head), &r.Head.Config
	track := metricset.NewTracker(config.Power)
	track.Follow(metricset.BatchOf(r.Head.Began, day.Plan))
	x := metricset.NewExport(track, metricset.About{
		Build: metricset.Build{Version: r.Head.Program}, Rig: metricset.Rig{Name: day.Rig, Relay: config.Relay.String()}, Simulated: r.Head.Simulated,
	}, start)
	b := &stepsBeside{to: x}
	b.state.Steps, b.state.Count = config.Steps, config.Count
	see := showing(b)
	damage, err := r.Each(func(block *record.Block) {
		b.look(block)
		see(block)
	})
	if err != nil {
		return err
	}
	if _, err := x.WriteTo(w); err != nil {
		return fmt.Errorf("exporting: %w", err)
	}
	if damage != nil {
		return damage
	}
	return nil
}

// stepsBeside puts the steps beside the frames of a record: as armed, then as the last
// checkpoint has them, a minute old at most.
type stepsBeside struct {
	to    loop.Watcher
	state controller.State
}

// look takes the steps of a checkpoint that this program can read; before arming there
// are none.
func (b *stepsBeside) look(block *record.Block) {
	if (block.Kind == record.KindStart || block.Kind == record.KindCheckpoint) && block.Strange == nil && block.Checkpoint.State.Count > 0 {
		b.state = block.Checkpoint.State
	}
}

// Watch fills in what a tick does not hold.
func (b *stepsBeside) Watch(f *loop.Frame) {
	f.State = &b.state
	d := &f.Decision
	d.Left = max(0, b.state.Steps[d.Index].For-d.Earned)
	b.to.Watch(f)
}
