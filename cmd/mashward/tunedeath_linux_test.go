package main

import (
	"io"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/deploy/yardstick"
)

// tuneToDie is a water test in a process of its own, on the kettle of files in
// the working folder. Its seconds are a tenth of one while the element is on, and
// nothing before.
func tuneToDie(way string) int {
	t := &tuneCall{rig: "rig.yaml", out: "kettle.tuning.yaml", state: "state", root: ".", format: "text", now: time.Now}
	t.open = func(rig config.Rig, complaints io.Writer) (realKettle, error) {
		var k *filed
		k, err := openFiled(t, rig, complaints, variant{pace: func(heating bool) {
			if way == "panic" && k.heated == 10 {
				panic("in the middle of a tick")
			}
			waits(heating, 100*time.Millisecond)
		}})
		return k, err
	}
	return exitCode(t.run(&call{in: os.Stdin, out: os.Stdout, err: os.Stderr, colour: terminal(os.Stdout)}), os.Stderr)
}

// startOn starts a program as a shell would: the terminal is its own.
func startOn(t *testing.T, cmd *exec.Cmd) (outer *os.File, y *yardstick.Typist) {
	t.Helper()
	outer, inner := yardstick.PseudoTerminal(t)
	cmd.Stdin, cmd.Stdout, cmd.Stderr = inner, inner, inner
	cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
	inner.Close()
	return outer, yardstick.NewTypist(t, outer)
}

// However a water test goes, heat goes, and the tuning that was there stays. Seen
// from outside, by the files of element and pump.
func TestHowEverAWaterTestEndsTheElementIsOffAndTheTuningAsItWas(t *testing.T) {
	signal := func(s syscall.Signal) func(*exec.Cmd, *os.File) {
		return func(cmd *exec.Cmd, _ *os.File) { _ = cmd.Process.Signal(s) }
	}
	const stored = "Not stored: ended by you after "
	for name, c := range map[string]struct {
		blow   func(*exec.Cmd, *os.File)
		within time.Duration
		code   int // -1: by a signal
		says   string
	}{
		"Ctrl-C":              {func(_ *exec.Cmd, outer *os.File) { _, _ = outer.WriteString("\x03") }, time.Second, 1, stored},
		"an order to end":     {signal(syscall.SIGTERM), time.Second, 1, stored},
		"a hangup":            {signal(syscall.SIGHUP), time.Second, 1, stored},
		"a closed terminal":   {func(_ *exec.Cmd, outer *os.File) { outer.Close() }, time.Second, 74, ""},
		"kill -9":             {signal(syscall.SIGKILL), time.Second, -1, ""},
		"a crash":             {signal(syscall.SIGSEGV), time.Second, 2, ""},
		"panic":               {func(*exec.Cmd, *os.File) {}, 3 * time.Second, 2, "in the middle of a tick"},
		"stopped, and killed": {signal(syscall.SIGSTOP), 3500 * time.Millisecond, -1, ""},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			folder := madeOfFiles(t, testedRig)
			cmd := exec.Command(os.Args[0])
			cmd.Dir = folder
			cmd.Env = append(os.Environ(), "MASHWARD_TEST_TUNES="+name, "GORACE=atexit_sleep_ms=0", "TERM=xterm", "NO_COLOR=")
			outer, y := startOn(t, cmd)
			answers(y, armed...)
			shows(t, folder, "element", "1", 20*time.Second)
			if pump := contents(t, folder, "pump"); pump != "1\n" {
				t.Errorf("the element is on and the pump shows %q", pump)
			}
			y.Sees("HEATING", 10*time.Second)
			c.blow(cmd, outer)
			t.Logf("%-20s element off after %4d ms", name, shows(t, folder, "element", "0", c.within).Milliseconds())
			shows(t, folder, "pump", "0", time.Second)
			if name == "stopped, and killed" {
				_ = cmd.Process.Kill()
			}
			_ = cmd.Wait()
			if code := cmd.ProcessState.ExitCode(); code != c.code {
				t.Errorf("exit code %d, not %d", code, c.code)
			}
			if said := y.Ends(); !strings.Contains(said, c.says) {
				t.Errorf("it does not say %q:\n%s", c.says, said)
			}
			if text := contents(t, folder, "kettle.tuning.yaml"); text != asItWas {
				t.Errorf("the tuning is now %q", text)
			}
			if text := contents(t, folder, "element") + contents(t, folder, "pump"); text != "0\n0\n" {
				t.Errorf("in the end element and pump show %q", text)
			}
		})
	}
}

// shows waits for what a file shows, and tells how long it took.
func shows(t *testing.T, folder, name, what string, patience time.Duration) time.Duration {
	t.Helper()
	tick := time.NewTicker(time.Millisecond)
	defer tick.Stop()
	began := time.Now()
	for strings.TrimSpace(contents(t, folder, name)) != what {
		if <-tick.C; time.Since(began) > patience {
			t.Fatalf("%s does not show %s within %v", name, what, patience)
		}
	}
	return time.Since(began)
}
