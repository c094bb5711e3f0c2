package main

import (
	"errors"
	"fmt"
	"io"
	"time"

	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/suggest"
	"mashward/controller"
	"mashward/controller/record"
	"mashward/controller/tune"
	"mashward/controller/unit"
	"mashward/profile/heat"
)

// fit takes the strike heat-up of a past batch for a test: from the start to
// the pour, water alone is in the kettle. The record of a test is a test.
func (f *found) fit(path string) error {
	return withRecord(path, func(r *record.Reader) error {
		config := r.Head.Config
		known := suggest.Known(&config)
		known.Power, known.Loss, known.Room = f.rig.Element.Power, f.rig.Kettle.Loss, f.rig.Site.Room
		take := suggest.Recorded
		if config.Test.Rise > 0 {
			take, known.AtRest = recordedTest, false
		}
		samples, span, err := take(r)
		if err != nil {
			return &exit{exitShort, fmt.Sprintf("%s: %v", path, err)}
		}
		f.duration = span
		f.water = unit.Litres(float64(config.LoadWater-config.Vessel) / float64(heat.WaterCapacity(1)))
		f.result = tune.Identify(samples, known)
		return nil
	})
}

// errNoTest says that a recorded test is of no use.
var errNoTest = errors.New("this test did not come to its end in one piece: nothing can be learned from it")

// recordedTest reads the seconds of a recorded water test.
func recordedTest(r *record.Reader) ([]tune.Sample, time.Duration, error) {
	var course tune.Course
	var first, last time.Duration
	for {
		b, err := r.Next()
		var damage *record.Damage
		switch {
		case err == io.EOF, errors.As(err, &damage):
			return nil, 0, errNoTest
		case err != nil:
			return nil, 0, err
		}
		switch b.Kind {
		case record.KindTick:
			rehearse.Second(&course, b.Tick.Mode, b.Tick.Stage, &b.Tick.In)
			if last = b.Tick.In.Now; first == 0 {
				first = last
			}
		case record.KindGap:
			return nil, 0, errNoTest
		case record.KindEnd:
			if b.End.Mode != controller.Complete || course.Broken() {
				return nil, 0, errNoTest
			}
			return course.Samples(), last - first + time.Second, nil
		}
	}
}
