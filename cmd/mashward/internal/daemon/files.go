package daemon

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strconv"
	"time"
)

// lookEvery is how often files on disk are compared with what runs.
const lookEvery = 5 * time.Second

// WatchFiles compares rig and running profile on disk with what runs, until ctx
// is done. A file that differs changes nothing; it is said.
func (d *Daemon) WatchFiles(ctx context.Context) {
	ticker := time.NewTicker(lookEvery)
	defer ticker.Stop()
	for {
		text := d.compare()
		d.differ.Store(&text)
		select {
		case <-ctx.Done():
			return
		case <-ticker.C:
		}
	}
}

// compare is one sentence about a file that is not what runs; "" if all are.
func (d *Daemon) compare() string {
	if d.kettle == nil {
		return ""
	}
	if now, err := os.ReadFile(d.o.RigPath); err != nil || !bytes.Equal(now, d.o.RigText) {
		return differs(filepath.Base(d.o.RigPath), now, d.o.RigText, err)
	}
	last := d.Latest()
	if last.Batch == nil || last.Batch.File == "" || last.Decision.Mode.Ended() {
		return ""
	}
	if now, err := os.ReadFile(filepath.Join(d.o.Profiles, last.Batch.File)); err != nil || !bytes.Equal(now, last.Batch.Text) {
		return differs(last.Batch.File, now, last.Batch.Text, err)
	}
	return ""
}

// differs says which file, and from which line on.
func differs(name string, disk, runs []byte, err error) string {
	if err != nil {
		return name + " on disk cannot be read any more; what was read at the start runs on."
	}
	return name + " on disk differs from what runs, from line " + strconv.Itoa(differFrom(disk, runs)) + " on. What was read at the start runs on."
}

// differFrom is the line from which two texts differ.
func differFrom(one, other []byte) int {
	line := 1
	for i := range min(len(one), len(other)) {
		if one[i] != other[i] {
			break
		}
		if one[i] == '\n' {
			line++
		}
	}
	return line
}
