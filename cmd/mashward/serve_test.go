package main

import (
	"context"
	"log/slog"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/metricset"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller/loop"
)

// ender ends a daemon with its first frame.
type ender func()

func (e ender) Watch(*loop.Frame) { e() }

// TestAScrapeOfALoopThatStandsStillIsTold: a frame is the present for 5 s.
func TestAScrapeOfALoopThatStandsStillIsTold(t *testing.T) {
	rig, _, err := config.LoadRig(yard)
	if err != nil {
		t.Fatal(err)
	}
	wall := time.Date(2026, 1, 10, 8, 0, 0, 0, time.UTC)
	now := func() time.Time { return wall }
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	tracker := metricset.NewTracker(rig.Element.Power)
	d := daemon.New(daemon.Options{
		Rig: rig, Plant: rig.Plant(), Simulated: true, Kettle: daemon.NewSimulated(rig, rig.Plant(), 0),
		Now: now, Log: slog.New(slog.DiscardHandler), Watchers: []loop.Watcher{tracker, ender(stop)},
	})
	source := current{tracker, d, now}
	if _, ok := source.Latest(); ok {
		t.Error("there is a sample before the first frame")
	}
	d.Run(ctx)
	for _, c := range []struct {
		after time.Duration
		ok    bool
	}{{0, true}, {5 * time.Second, true}, {5*time.Second + time.Millisecond, false}, {time.Hour, false}} {
		wall = d.Latest().Wall.Add(c.after)
		if s, ok := source.Latest(); ok != c.ok || !s.Live {
			t.Errorf("%v after the frame: present %v, want %v; counters there: %v", c.after, ok, c.ok, s.Live)
		}
	}
}
