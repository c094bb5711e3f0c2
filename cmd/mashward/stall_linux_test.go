package main

import (
	"fmt"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"mashward/cmd/mashward/internal/view"
	"mashward/controller/record"
)

// stalled is storage in a file whose syncs never return once it has begun, as of a
// card that hangs.
type stalled struct {
	record.Storage
	syncs int
}

func (s *stalled) Sync() error {
	if s.syncs++; s.syncs > 1 {
		fmt.Fprintln(os.Stderr, storageHangs)
		select {}
	}
	return s.Storage.Sync()
}

func stalling(path string) (record.Storage, error) {
	f, err := record.Create(path)
	if err != nil {
		return nil, err
	}
	return &stalled{Storage: f}, nil
}

// TestSTOPAndTheLoopWaitForNoStorage: the program itself with storage that hangs
// for good: STOP reaches the relay's file as ever, and the ticks come in time.
func TestSTOPAndTheLoopWaitForNoStorage(t *testing.T) {
	if testing.Short() {
		t.Skip("some seconds of real time")
	}
	t.Parallel()
	folder := files(t)
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), "MASHWARD_TEST_DIES_BY="+storageHangs)
	s := begin(t, cmd, folder)
	heatAt(t, s.at)
	s.until("its storage hangs", func(*view.State) bool { return strings.Contains(s.log(), storageHangs) })
	var longest time.Duration
	for range 4 {
		waitFor(t, folder, true)
		answered := make(chan struct{})
		go func() {
			defer close(answered)
			press(s.at + "/api/v1/stop")
		}()
		took := waitFor(t, folder, false)
		if longest = max(longest, took); took > time.Second {
			t.Errorf("STOP took %v", took)
		}
		<-answered
		var done struct{ Accepted bool }
		s.ask("POST", "command", `{"wish": "resume"}`, &done)
	}
	t.Logf("with storage that hangs STOP took %d ms at most", longest.Milliseconds())
	metrics := string(request(t, "GET", s.at+"/metrics", ""))
	if all, good := ticksIn(t, metrics, `_count\{.*`), ticksIn(t, metrics, `_bucket\{.*le="0\.5"`); all < 8 || good < all {
		t.Errorf("%d of %d ticks came within 0.5 s", good, all)
	}
}

// waitFor waits until the relay's file shows on, or off, and tells how long it did.
func waitFor(t *testing.T, folder string, want bool) time.Duration {
	t.Helper()
	began := time.Now()
	tick := time.NewTicker(time.Millisecond)
	defer tick.Stop()
	for on(t, folder) != want {
		if <-tick.C; time.Since(began) > 10*time.Second {
			t.Fatalf("after 10 s the relay is still not as wanted: on %v", want)
		}
	}
	return time.Since(began)
}

// ticksIn is a count of the histogram of how late ticks began, by a pattern of its name
// and labels.
func ticksIn(t *testing.T, metrics, of string) int {
	t.Helper()
	find := regexp.MustCompile(`(?m)^mashward_[a-z_]*late[a-z_]*` + of + `\} (\d+)$`)
	m := find.FindStringSubmatch(metrics)
	if m == nil {
		t.Fatalf("there is no %s of the lateness in\n%s", of, strings.Join(regexp.MustCompile(`(?m)^.*late.*$`).FindAllString(metrics, -1), "\n"))
	}
	n, err := strconv.Atoi(m[1])
	if err != nil {
		t.Fatal(err)
	}
	return n
}
