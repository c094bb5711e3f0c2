package main

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"mashward/controller/record"
)

const (
	// startsFile counts in the folder of the state how often the daemon was
	// started in a row without an orderly end and without having run for long. It
	// asks no clock: that of a board without a battery knows no yesterday.
	startsFile = "starts"
	// longEnough is how long a daemon must have run to end the row.
	longEnough = 10 * time.Minute
)

// inALoop is what is said of a crash loop.
const inALoop = "Heat is disabled: mashward was started again and again, and each time ended within minutes without being told to. " +
	"Isolate the kettle, and read the log for why. Then stop mashward and start it by hand."

// countStart counts this start, durably, and tells how many restarts in a row it
// makes. What cannot be read counts as none that was.
func countStart(state string) (restarts int, err error) {
	path := filepath.Join(state, startsFile)
	text, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return 0, err
	}
	if n, bad := strconv.Atoi(strings.TrimSpace(string(text))); bad == nil && n > 0 {
		restarts = n
	}
	return restarts, record.Replace(path, []byte(strconv.Itoa(min(restarts, 1000)+1)+"\n"))
}

// endRow ends the row: this daemon has run for long enough, or ends in order.
func endRow(state string) error {
	err := os.Remove(filepath.Join(state, startsFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}
