package daemon

import (
	"context"
	"errors"
	"path/filepath"
	"time"

	"mashward/cmd/internal/suggest"
	"mashward/controller/record"
)

// closing is how long storage may take to close a record.
const closing = 10 * time.Second

// closeRecord ends the record, off the tick.
func (d *Daemon) closeRecord() {
	b := d.batch
	if b == nil || b.recorder == nil {
		return
	}
	recorder, log := b.recorder, d.o.Log
	b.recorder = nil
	d.loop.Watchers = d.watchers()
	done := make(chan struct{})
	go func() {
		err := closed(recorder)
		if err != nil {
			log.Error("record", "error", err)
		}
		close(done)
		if err == nil {
			d.learn(b)
		}
	}()
	d.closing = append(d.closing, done)
}

func closed(recorder *record.Recorder) error {
	ctx, cancel := context.WithTimeout(context.Background(), closing)
	defer cancel()
	return recorder.Close(ctx)
}

// learnt is what the strike heat-up of a batch suggests.
type learnt struct {
	batch string
	told  *suggest.Told
}

// learn fits the strike heat-up of a batch that is over, from its record. No
// tick waits for it, nor does the end of the daemon; nothing but words come of
// it.
func (d *Daemon) learn(b *Batch) {
	path := filepath.Join(d.o.Records, b.ID+RecordSuffix)
	s, err := fitted(path)
	if err != nil {
		if !errors.Is(err, suggest.ErrNoStrike) {
			d.o.Log.Error("strike heat-up", "batch", b.ID, "error", err)
		}
		return
	}
	told := s.Tell(suggest.Files{Rig: d.o.RigPath, Record: path, Out: suggest.OutFor(d.o.RigPath, d.o.Rig.TuningPath())})
	d.o.Log.Info("strike heat-up", "batch", b.ID, "usable", s.Found.Accepted(), "suggestion", told != nil)
	d.learnt.Store(&learnt{b.ID, told})
}

// fitted is a record's strike heat-up, fitted.
func fitted(path string) (suggest.Suggestion, error) {
	f, err := record.View(path)
	if err != nil {
		return suggest.Suggestion{}, err
	}
	defer f.Close()
	r, err := record.Read(f)
	if err != nil {
		return suggest.Suggestion{}, err
	}
	return suggest.FromRecord(r)
}
