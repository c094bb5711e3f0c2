package rehearse

import (
	"errors"
	"io"
	"time"

	"mashward/controller"
	"mashward/controller/record"
	"mashward/controller/tune"
	"mashward/controller/unit"
)

// ErrNoStrike says that a record has no strike heat-up to learn from.
var ErrNoStrike = errors.New("this record has no strike heat-up from rest to the pour: nothing can be learned from it")

// StrikeSamples are the ticks of a recorded batch from its start to the pour,
// as a test would give them.
func StrikeSamples(r *record.Reader) ([]tune.Sample, time.Duration, error) {
	var samples []tune.Sample
	for {
		b, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, 0, err
		}
		if b.Kind != record.KindTick {
			continue
		}
		t := &b.Tick
		if t.Stage == controller.Pour || t.Stage == controller.Settle {
			return samples, time.Duration(len(samples)) * time.Second, nil
		}
		if t.Mode == controller.Running {
			samples = append(samples, tune.Sample{On: t.In.Applied == unit.On, Reading: t.In.Reading.Value, Has: t.In.Reading.Good()})
		}
	}
	return nil, 0, ErrNoStrike
}
