package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/view"
)

const (
	cutRig = `rig: Kettle that is cut off
kettle: {capacity: 50 L, element_covered_at: 12 L, vessel: 4.1 kJ/K, loss: 7 W/K}
element: {power: 3000 W, relay: {driver: gpio, line: GPIO17, type: solid-state}}
probe: {driver: w1, id: 28-0000075a1c3f, place: outlet, covered_at: 9 L}
`
	cutDay = "profile: Warm water\nwater: 25 L\nsteps:\n  - {rest: 30 °C, for: 30 min}\n"
	// cutSpeed makes a minute of a fifth of a second.
	cutSpeed = "300"
)

// served is a mashward of its own.
type served struct {
	*testing.T
	cmd *exec.Cmd
	at  string

	mu   sync.Mutex
	said bytes.Buffer
}

// serving starts one with a simulated kettle in a folder.
func serving(t *testing.T, folder string) *served {
	t.Helper()
	return begin(t, exec.Command(os.Args[0], "serve", "--rig", "rig.yaml", "--profiles", ".", "--state", "state",
		"--simulate", "--speed", cutSpeed, "--listen", "127.0.0.1:0"), folder)
}

// begin starts a command that serves, and waits until it listens.
func begin(t *testing.T, cmd *exec.Cmd, folder string) *served {
	t.Helper()
	cmd.Dir = folder
	if cmd.Env == nil {
		cmd.Env = os.Environ()
	}
	cmd.Env = append(cmd.Env, "MASHWARD_TEST_IS_MASHWARD=1", "GORACE=atexit_sleep_ms=0")
	out, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	s := &served{T: t, cmd: cmd}
	t.Cleanup(s.kill)
	lines := bufio.NewScanner(io.TeeReader(out, s))
	for s.at == "" && lines.Scan() {
		if _, rest, ok := strings.Cut(lines.Text(), "address="); ok {
			s.at, _, _ = strings.Cut(rest, " ")
		}
	}
	if s.at == "" {
		t.Fatalf("it does not serve:\n%s", s.log())
	}
	go func() { _, _ = io.Copy(s, out) }()
	return s
}

// Write keeps what it says.
func (s *served) Write(b []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.said.Write(b)
}

// log is what it has said so far.
func (s *served) log() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.said.String()
}

// kill ends it as a power cut would: nothing of it runs any more.
func (s *served) kill() {
	_ = s.cmd.Process.Kill()
	_ = s.cmd.Wait()
}

func (s *served) ask(method, path, body string, into any) {
	s.Helper()
	if err := json.Unmarshal(request(s.T, method, s.at+"/api/v1/"+path, body), into); err != nil {
		s.Fatal(err)
	}
}

// until asks for the state until it is as wanted, for a minute at most.
func (s *served) until(what string, so func(*view.State) bool) *view.State {
	s.Helper()
	tick := time.NewTicker(5 * time.Millisecond)
	defer tick.Stop()
	for range 12000 {
		var now view.State
		if s.ask("GET", "state", "", &now); so(&now) {
			return &now
		}
		<-tick.C
	}
	s.Fatalf("never: %s", what)
	return nil
}

// TestABatchSurvivesKill9: the program itself, killed in the middle of a rest and
// started again, offers the batch cold, goes on by a person's word and completes.
func TestABatchSurvivesKill9(t *testing.T) {
	if testing.Short() {
		t.Skip("some seconds of real time")
	}
	folder := t.TempDir()
	for name, text := range map[string]string{"rig.yaml": cutRig, "day.yaml": cutDay} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	s := serving(t, folder)
	var rehearsed, armed struct{ Hash, Nonce string }
	s.ask("POST", "rehearsal", `{"profile": "day"}`, &rehearsed)
	const stated = `"litres": 25, "bag_clear": true, "valve_shut": true, "rcd_tested": true}`
	s.ask("POST", "arm", fmt.Sprintf(`{"profile": "day", "hash": %q, `, rehearsed.Hash)+stated, &armed)
	var begun struct{ Batch string }
	s.ask("POST", "start", fmt.Sprintf(`{"nonce": %q}`, armed.Nonce), &begun)
	before := s.until("ten minutes counted", func(v *view.State) bool { return v.Step != nil && v.Step.Earned > 600 })
	s.kill()

	if a := mashward("record", "rig", filepath.Join(folder, "state/records", begun.Batch+".batch")); a.code != 0 || a.out != cutRig {
		t.Errorf("its record gives back another rig file: %d, %q", a.code, a.out)
	}
	s = serving(t, folder)
	after := s.until("a tick", func(v *view.State) bool { return v.Number > 1 })
	if after.Batch == nil || after.Batch.ID != begun.Batch || after.Batch.State != "offered" || after.Heating || after.Offer == nil {
		t.Fatalf("after the start: %+v, offer %+v", after.Batch, after.Offer)
	}
	// Five seconds may be lost, and at this speed a disk that is a third of a second
	// late loses a hundred; that it is five is shown where nothing is late.
	if after.Step.Earned < before.Step.Earned-5-100 {
		t.Errorf("earned %v s, had %v s", after.Step.Earned, before.Step.Earned)
	}
	s.until("five minutes on", func(v *view.State) bool {
		if v.Heating || v.Batch.State != "offered" {
			t.Fatalf("it heats (%v) while %s", v.Heating, v.Batch.State)
		}
		return v.Number > after.Number+300
	})
	s.ask("POST", "go-on", fmt.Sprintf(`{"batch": %q, `, begun.Batch)+stated, &begun)
	s.until("complete", func(v *view.State) bool { return v.Batch.State == "complete" })
	t.Logf("earned %.0f s before, %.0f s after", before.Step.Earned, after.Step.Earned)
}

// TestACrashLoopEndsInAKettleThatIsNotDriven: the fifth start in a row comes up
// with its page and without heat; an orderly end ends the row.
func TestACrashLoopEndsInAKettleThatIsNotDriven(t *testing.T) {
	if testing.Short() {
		t.Skip("some seconds of real time")
	}
	folder := t.TempDir()
	if err := os.WriteFile(filepath.Join(folder, "rig.yaml"), []byte(cutRig), 0o600); err != nil {
		t.Fatal(err)
	}
	for n := range daemon.MostRestarts + 3 {
		s := serving(t, folder)
		now := s.until("an answer", func(*view.State) bool { return true })
		if want := n > daemon.MostRestarts; now.HeatDisabled != want || want && now.Sentence != inALoop {
			t.Errorf("start %d: disabled %v, %q", n+1, now.HeatDisabled, now.Sentence)
		}
		s.kill()
	}
	s := serving(t, folder)
	if err := s.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := s.cmd.Wait(); err != nil {
		t.Error(err)
	}
	s = serving(t, folder)
	if now := s.until("an answer", func(*view.State) bool { return true }); now.HeatDisabled {
		t.Errorf("after an orderly end: %q", now.Sentence)
	}
}
