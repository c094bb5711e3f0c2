//go:build !linux

package hardware

import (
	"errors"
	"io"
	"log/slog"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/mashward/internal/daemon"
)

// ErrSystem says that only Linux has the lines and probes that are driven here.
var ErrSystem = errors.New("real kettles are driven on Linux only; use --simulate")

// Kettle cannot be had on this system.
type Kettle struct{ daemon.Kettle }

// Close never has anything to do.
func (k *Kettle) Close() error { return nil }

// Open is refused.
func Open(config.Rig, string, string, *slog.Logger, io.Writer) (*Kettle, error) {
	return nil, ErrSystem
}

// Keep is refused.
func Keep(Line, bool, io.Reader, io.Writer) error { return ErrSystem }

// Off is refused, line by line.
func Off(lines []Line, _ time.Duration) []error {
	failed := make([]error, len(lines))
	for i := range failed {
		failed[i] = ErrSystem
	}
	return failed
}
