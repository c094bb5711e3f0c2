package record

import (
	"fmt"
	"io"
)

// Storage is where the bytes of one record lie. Faults are injected here: an
// append may be torn, a sync may fail or hang.
type Storage interface {
	io.ReaderAt
	// Append adds p at the end. After an error any part of p may be there.
	Append(p []byte) error
	// Sync returns when all that was appended will survive a power cut.
	Sync() error
	// Size is the length in bytes.
	Size() (int64, error)
	// Truncate cuts the end off, down to size bytes.
	Truncate(size int64) error
	io.Closer
}

// Memory is storage in memory, for simulations. The zero value is empty and
// ready. It is not safe for use by two goroutines at once.
type Memory struct {
	Bytes []byte
	Syncs int // how many times Sync was called
}

// ReadAt reads as io.ReaderAt says.
func (m *Memory) ReadAt(p []byte, off int64) (int, error) {
	if off < 0 || off > int64(len(m.Bytes)) {
		return 0, io.EOF
	}
	n := copy(p, m.Bytes[off:])
	if n < len(p) {
		return n, io.EOF
	}
	return n, nil
}

// Append never fails.
func (m *Memory) Append(p []byte) error {
	m.Bytes = append(m.Bytes, p...)
	return nil
}

// Sync only counts.
func (m *Memory) Sync() error {
	m.Syncs++
	return nil
}

// Size is the length in bytes.
func (m *Memory) Size() (int64, error) { return int64(len(m.Bytes)), nil }

// Truncate cuts the end off.
func (m *Memory) Truncate(size int64) error {
	if size < 0 || size > int64(len(m.Bytes)) {
		return fmt.Errorf("cutting a record of %d bytes to %d: a record can only be made shorter", len(m.Bytes), size)
	}
	m.Bytes = m.Bytes[:size]
	return nil
}

// Close does nothing: the bytes stay readable.
func (m *Memory) Close() error { return nil }
