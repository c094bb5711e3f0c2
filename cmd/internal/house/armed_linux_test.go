package house

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"mashward/deploy/yardstick"
)

// tuning starts a water test on the kettle of files, with a terminal of its own.
func (p program) tuning(state string) (*exec.Cmd, *yardstick.Typist) {
	p.t.Helper()
	p.write("kettle.tuning.yaml", "as it was\n")
	outer, inner := yardstick.PseudoTerminal(p.t)
	cmd := exec.Command(p.path, "tune", "--rig", "rig.yaml", "--state", state, "--out", "kettle.tuning.yaml")
	cmd.Dir = p.folder
	cmd.Env = append(os.Environ(), "TERM=xterm", "NO_COLOR=")
	cmd.Stdin, cmd.Stdout, cmd.Stderr = inner, inner, inner
	cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true}
	if err := cmd.Start(); err != nil {
		p.t.Fatal(err)
	}
	p.t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
	inner.Close()
	return cmd, yardstick.NewTypist(p.t, outer)
}

// watched is a relay's file from the start of the watch on.
type watched struct {
	on, off time.Duration // when it showed on for the first time, and off after that; 0: it did not
}

// watch looks at a relay until it has been on and off, for so long at most. When
// it is on it gives a blow.
func watch(relay string, patience time.Duration, blow func()) watched {
	var w watched
	tick := time.NewTicker(2 * time.Millisecond)
	defer tick.Stop()
	for began := time.Now(); w.off == 0 && time.Since(began) < patience; <-tick.C {
		text, _ := os.ReadFile(relay)
		switch on := strings.HasPrefix(string(text), "1"); {
		case on && w.on == 0:
			w.on = time.Since(began)
			blow()
		case !on && w.on > 0:
			w.off = time.Since(began)
		}
	}
	return w
}

// In real time: a person arms a water test, the water is watched for a minute and
// a half, the element goes on, and SIGTERM takes it off. Meanwhile the kettle is
// nobody else's. Other scenarios run while this one waits; that is why it stands
// in the first file.
func TestScenarioAWaterTestHeatsARealElementUntilItIsEnded(t *testing.T) {
	p := build(t)
	p.files(bigRig, bigProfile, 20)
	cmd, y := p.tuning("state")
	relay := filepath.Join(p.folder, "relay")
	for _, each := range [][2]string{
		{"litres of cold water:", "25\n"},
		{"Type yes if it is so:", "yes\n"},
		{"Type yes if it is so:", "yes\n"},
		{"Type yes if it is so:", "yes\n"},
		{"Type yes if it is so:", "yes\n"},
		{"Type heat if it is so:", ""},
	} {
		y.Sees(each[0], 10*time.Second)
		y.Types(each[1])
		if text, err := os.ReadFile(relay); err != nil || string(text) != "0\n" {
			t.Fatalf("before it is armed the relay shows %q, %v", text, err)
		}
	}
	if a := p.must(69, "serve", "--rig", "rig.yaml", "--listen", "127.0.0.1:0"); !strings.Contains(a.err, "another process holds it") {
		t.Errorf("a daemon beside it is told %q", a.err)
	}
	y.Types("heat\n")
	y.Sees("THIS HEATS. Water test of Kettle of files, 25.0 L", 10*time.Second)
	seen := make(chan watched, 1)
	go func() {
		seen <- watch(relay, 3*time.Minute, func() {
			<-time.After(2500 * time.Millisecond) // some pictures
			_ = cmd.Process.Signal(syscall.SIGTERM)
		})
	}()
	t.Parallel()
	w := <-seen
	t.Logf("the element went on %.1f s after it was armed, and off %.1f s later", w.on.Seconds(), (w.off - w.on).Seconds())
	if w.on < 85*time.Second || w.off == 0 || w.off-w.on > 2500*time.Millisecond+atOnce {
		t.Errorf("on after %v, off after %v", w.on, w.off)
	}
	_ = cmd.Wait()
	if code := cmd.ProcessState.ExitCode(); code != 1 {
		t.Errorf("exit code %d, not 1", code)
	}
	said := y.Ends()
	for _, want := range []string{
		"20.0 °C   HEATING   full power (2 of 3)", "Not stored: ended by you after 1 min 3", "Not heating; still live: isolate before opening or reaching in.",
		"not heating; still live   ended by you",
	} {
		if !strings.Contains(said, want) {
			t.Errorf("it does not say %q:\n%s", want, said)
		}
	}
	if strings.Contains(said, "SIMULATED") {
		t.Error("it says that it is simulated")
	}
	if text, err := os.ReadFile(filepath.Join(p.folder, "kettle.tuning.yaml")); err != nil || string(text) != "as it was\n" {
		t.Errorf("the tuning is now %q, %v", text, err)
	}
	records, _ := filepath.Glob(filepath.Join(p.folder, "state/tests/*.batch"))
	if len(records) != 1 {
		t.Fatalf("records %v", records)
	}
	p.must(1, "tune", "--rig", "rig.yaml", "--from", records[0], "--out", "kettle.tuning.yaml")
	p.must(0, "element-off", "--state", "state")
}

// A daemon that heats goes on, and the test is refused before anything is asked.
func TestScenarioAWaterTestLeavesAKettleOfADaemonAlone(t *testing.T) {
	t.Parallel()
	p := build(t)
	p.files(bigRig, bigProfile, 20)
	d := p.daemon()
	d.heat(25)
	for state, why := range map[string]string{"state": "another mashward runs with the folder", "another": "another process holds it"} {
		cmd, y := p.tuning(state)
		_ = cmd.Wait()
		if code, said := cmd.ProcessState.ExitCode(), y.Ends(); code != 69 || !strings.Contains(said, why) || strings.Contains(said, "litres of cold water:") {
			t.Errorf("with the folder %s: exit code %d\n%s", state, code, said)
		}
	}
	if !d.on() {
		t.Error("the test took heat from the daemon")
	}
}
