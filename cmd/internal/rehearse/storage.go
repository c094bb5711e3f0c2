package rehearse

import (
	"syscall"

	"mashward/controller/record"
)

// faulty is storage that fails while the kettle's faults say so.
type faulty struct {
	record.Storage
	kettle *Simulated
}

// Append fails when there is no room, or when writing fails.
func (f *faulty) Append(p []byte) error {
	switch e := f.kettle.Effects(); {
	case e.StorageFull:
		return syscall.ENOSPC
	case e.StorageError:
		return syscall.EIO
	}
	return f.Storage.Append(p)
}

// Sync fails when writing fails.
func (f *faulty) Sync() error {
	if f.kettle.Effects().StorageError {
		return syscall.EIO
	}
	return f.Storage.Sync()
}
