package record

import (
	"fmt"
	"sync/atomic"
)

// sink takes encoded bytes to storage. It keeps what no sync has confirmed: an
// append that failed may have left any part behind, and after a failed sync
// nothing is known about what came before it. So after an error everything
// since the last sync that succeeded is cut off and written again.
//
// One goroutine at a time uses it.
type sink struct {
	storage  Storage
	base     int64  // where pending begins in storage
	pending  []byte // not confirmed yet
	appended int    // how much of pending has been appended
	broken   bool   // an append or a sync failed: storage is as if unknown from base on
	fault    atomic.Pointer[error]
}

// flush appends what is pending, and syncs if asked to. It reports whether all
// went well; if not, it can be tried again later.
func (s *sink) flush(sync bool) bool {
	if err := s.try(sync); err != nil {
		s.broken = true
		err = fmt.Errorf("record: %w: the batch goes on, but what happens now is not on storage", err)
		s.fault.Store(&err)
		return false
	}
	if sync && s.fault.Load() != nil {
		s.fault.Store(nil) // only a sync proves that storage is back
	}
	return true
}

func (s *sink) try(sync bool) error {
	if s.broken {
		if err := s.storage.Truncate(s.base); err != nil {
			return fmt.Errorf("cutting off what was not confirmed: %w", err)
		}
		s.appended, s.broken = 0, false
	}
	if s.appended < len(s.pending) {
		if err := s.storage.Append(s.pending[s.appended:]); err != nil {
			return fmt.Errorf("appending: %w", err)
		}
		s.appended = len(s.pending)
	}
	if !sync {
		return nil // and is kept: a sync that fails later may forget it
	}
	if err := s.storage.Sync(); err != nil {
		return fmt.Errorf("syncing: %w", err)
	}
	s.release()
	return nil
}

// release forgets what has been taken.
func (s *sink) release() {
	s.base += int64(s.appended)
	s.pending = s.pending[:copy(s.pending, s.pending[s.appended:])]
	s.appended = 0
}

// err is what stands between the record and storage, nil if nothing.
func (s *sink) err() error {
	if p := s.fault.Load(); p != nil {
		return *p
	}
	return nil
}
