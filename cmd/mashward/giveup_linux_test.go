package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/view"
)

// fatal is what a keeper hears; a moment after it has been asked for heat it dies,
// as it would of a driver that crashes when it switches on.
type fatal struct{ in io.Reader }

func (f fatal) Read(b []byte) (int, error) {
	n, err := f.in.Read(b)
	if bytes.HasPrefix(b[:n], []byte("on ")) {
		time.AfterFunc(20*time.Millisecond, func() { os.Exit(3) })
	}
	return n, err
}

// files are a kettle of files in a folder, with a profile.
func files(t *testing.T) (folder string) {
	t.Helper()
	folder = t.TempDir()
	for name, text := range map[string]string{
		"rig.yaml": fmt.Sprintf(dyingRig, folder), "day.yaml": dyingDay, "relay": "1\n", "probe": "20000\n",
	} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return folder
}

// pulses counts how often the relay's file turns on in a while.
func pulses(t *testing.T, folder string, while time.Duration) (n int) {
	t.Helper()
	tick := time.NewTicker(time.Millisecond)
	defer tick.Stop()
	was := false
	for began := time.Now(); time.Since(began) < while; <-tick.C {
		is := on(t, folder)
		if is && !was {
			n++
		}
		was = is
	}
	return n
}

// TestARelayWhoseDriverDiesAtEachOnIsGivenUp: the program itself, with a keeper that
// crashes whenever it has switched on. The relay pulses a few times, and then heat
// stays off until a person has looked.
func TestARelayWhoseDriverDiesAtEachOnIsGivenUp(t *testing.T) {
	if testing.Short() {
		t.Skip("some seconds of real time")
	}
	t.Parallel()
	folder := files(t)
	cmd := exec.Command(os.Args[0], "serve", "--rig", "rig.yaml", "--profiles", ".", "--state", "state", "--listen", "127.0.0.1:0")
	cmd.Env = append(os.Environ(), "MASHWARD_TEST_KEEPER_DIES=1")
	s := begin(t, cmd, folder)
	heatAt(t, s.at)
	const most = 3 // as controller/line/keeper has it
	if n := pulses(t, folder, 6*time.Second); n == 0 || n > most {
		t.Errorf("the relay went on %d times in 6 s, want 1 to %d", n, most)
	}
	now := s.until("held", func(v *view.State) bool { return v.Batch.State == "held" })
	alarm := slices.ContainsFunc(now.Alarms, func(a view.Alarm) bool { return a.ID == daemon.RelayLost })
	if now.Batch.Reason != "relay lost" || !alarm || now.Heating || now.Prompt == nil || now.Prompt.Wish != "clear-trip" {
		t.Errorf("it is held by %q, alarms %v, heating %v, prompt %+v", now.Batch.Reason, now.Alarms, now.Heating, now.Prompt)
	}
	if log := s.log(); !strings.Contains(log, "lost again and again") {
		t.Errorf("the log does not say it:\n%s", log)
	}
	// A person who has looked may have it tried again, as often and no more.
	var done struct{ Accepted bool }
	s.ask("POST", "command", `{"wish": "clear-trip"}`, &done)
	s.until("cleared", func(v *view.State) bool { return v.Prompt == nil })
	s.ask("POST", "command", `{"wish": "resume"}`, &done)
	if n := pulses(t, folder, 5*time.Second); n == 0 || n > most {
		t.Errorf("tried again the relay went on %d times in 5 s, want 1 to %d", n, most)
	}
	s.until("held again", func(v *view.State) bool { return v.Batch.State == "held" })
	s.kill()
	if a := mashward("record", "replay", filepath.Join(folder, "state/records", now.Batch.ID+".batch")); a.code != 0 {
		t.Errorf("its record replays otherwise: %s%s", a.out, a.err)
	}
}
