package daemon

import (
	"errors"
	"os"
	"time"

	"mashward/cmd/internal/config"
	"mashward/controller/record"
)

// TuningFile is one tuning on disk.
type TuningFile struct {
	config.Tuning
	Written time.Time // by the file system
}

// Errors of a tuning that is to be brought back.
var (
	ErrUntuned  = errors.New("the rig file names no tuning: there is none to bring back")
	ErrNoBefore = errors.New("no tuning was replaced yet: there is none to bring back")
)

// Before is where the tuning is kept that another one replaced.
func Before(tuning string) string { return tuning + ".before" }

// Tunings are the tuning on disk and the one that it replaced; nil where there is none
// that can be read. What runs is what was read at the start.
func (d *Daemon) Tunings() (now, before *TuningFile) {
	path := d.o.Rig.TuningPath()
	if path == "" {
		return nil, nil
	}
	return tuningFile(path), tuningFile(Before(path))
}

func tuningFile(path string) *TuningFile {
	about, err := os.Stat(path)
	if err != nil || !about.Mode().IsRegular() {
		return nil
	}
	t, _, err := config.LoadTuning(path)
	if err != nil {
		return nil
	}
	return &TuningFile{t, about.ModTime()}
}

// RestoreTuning swaps the tuning on disk with the one before it, where no batch is under
// way. It counts from the next start on.
func (d *Daemon) RestoreTuning() error {
	if d.kettle == nil {
		return ErrDisabled
	}
	path := d.o.Rig.TuningPath()
	if path == "" {
		return ErrUntuned
	}
	if err := d.ready(); err != nil {
		return err
	}
	if tuningFile(Before(path)) == nil {
		return ErrNoBefore
	}
	if err := SwapTuning(path); err != nil {
		return err
	}
	d.o.Log.Info("the tuning before was brought back; it counts from the next start on")
	return nil
}

// SwapTuning puts the tuning before in the place of the one on disk, and that in its
// own. One that cannot be used is an error, and both stay.
func SwapTuning(path string) error {
	if _, _, err := config.LoadTuning(Before(path)); err != nil {
		return err
	}
	text, err := os.ReadFile(Before(path))
	if err != nil {
		return err
	}
	return PutTuning(path, text)
}

// PutTuning writes a tuning and keeps the one that was there. At no instant is there
// none, where there was one.
func PutTuning(path string, text []byte) error {
	was, err := os.ReadFile(path)
	switch {
	case err == nil:
		if err := record.Replace(Before(path), was); err != nil {
			return err
		}
	case !errors.Is(err, os.ErrNotExist):
		return err
	}
	return record.Replace(path, text)
}
