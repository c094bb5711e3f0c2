// Package suggest tells after a batch what its strike heat-up showed about the
// kettle, where that is another than the batch was run with. It suggests and
// changes nothing: whoever wants it gives the command that takes it over.
package suggest

import (
	"errors"
	"io"
	"time"

	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/record"
	"mashward/controller/tune"
	"mashward/controller/unit"
	"mashward/sensors"
)

// ErrNoStrike says that a batch has no strike heat-up to learn from.
var ErrNoStrike = errors.New("this record has no strike heat-up from rest to the pour, in one piece: nothing can be learned from it")

// mostSamples bounds the work of a fit: four hours, more than any strike heat-up
// of the domain takes.
const mostSamples = 4 * 3600

// Strike keeps the seconds of a batch from its start to the pour, when water
// alone is in the kettle, as a water test would give them. It is a loop.Watcher.
type Strike struct {
	samples []tune.Sample
	over    bool // the grain goes in
	spoiled bool // something between that no model of the kettle can know
}

// Watch implements loop.Watcher.
func (s *Strike) Watch(f *loop.Frame) {
	s.second(f.Decision.Mode, f.Decision.Stage, f.Tick.Applied, f.Tick.Reading)
	s.heed(f.Decision.Events[:f.Decision.Count])
}

// second takes one tick. In a pause heat and pump go on as before; while a
// batch is held the pump stands, and the kettle is another. Grain that went in
// without a word was in before anyone knew.
func (s *Strike) second(mode controller.Mode, stage controller.Stage, applied unit.Relay, r sensors.Reading) {
	switch {
	case s.over || mode == controller.Idle:
	case stage == controller.Pour, len(s.samples) >= mostSamples:
		s.over = true
	case stage == controller.Settle, !mode.Heats():
		s.spoiled = true
	default:
		s.samples = append(s.samples, tune.Sample{On: applied == unit.On, Reading: r.Value, Has: r.Good()})
	}
}

// heed is spoiled by water that went in or out, or a volume that was another
// than declared: the fit knows of none.
func (s *Strike) heed(events []controller.Event) {
	for _, e := range events {
		switch e.Kind {
		case controller.WaterAdded, controller.WaterTaken, controller.VolumeRead:
			s.spoiled = s.spoiled || !s.over
		}
	}
}

// Samples are the seconds, or ErrNoStrike.
func (s *Strike) Samples() ([]tune.Sample, error) {
	if !s.over || s.spoiled {
		return nil, ErrNoStrike
	}
	return s.samples, nil
}

// Recorded reads the strike of a recorded batch. The error is ErrNoStrike or the
// storage's.
func Recorded(r *record.Reader) ([]tune.Sample, time.Duration, error) {
	if err := r.Foreign(); err != nil {
		return nil, 0, err
	}
	var s Strike
	for !s.over {
		b, err := r.Next()
		var damage *record.Damage
		if err == io.EOF || errors.As(err, &damage) {
			break
		}
		if err != nil {
			return nil, 0, err
		}
		s.block(b)
	}
	samples, err := s.Samples()
	return samples, time.Duration(len(samples)) * time.Second, err
}

// block takes one block of a record. Where seconds are missing, or the program
// began anew, the course is broken.
func (s *Strike) block(b *record.Block) {
	switch b.Kind {
	case record.KindTick:
		s.second(b.Tick.Mode, b.Tick.Stage, b.Tick.In.Applied, b.Tick.In.Reading)
		s.heed(b.Tick.Events)
	case record.KindGap, record.KindStart:
		s.spoiled = s.spoiled || len(s.samples) > 0 && !s.over
	}
}
