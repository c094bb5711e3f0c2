package main

import (
	"io"
	"os"
	"runtime"
	"strings"
	"syscall"
	"testing"

	"mashward/deploy/yardstick"
)

// onTerminal is what the demo writes on a terminal.
func onTerminal(t *testing.T) string {
	t.Helper()
	outer, inner := yardstick.PseudoTerminal(t)
	written := make(chan string)
	go func() {
		text, _ := io.ReadAll(outer) // ends with an error when the other end is closed
		written <- string(text)
	}()
	code := run([]string{"demo", "--speed", "0"}, strings.NewReader(""), inner, io.Discard)
	inner.Close()
	text := <-written
	if code != 0 {
		t.Errorf("exit code %d", code)
	}
	// The terminal puts a carriage return before every line feed.
	return somewhere.ReplaceAllString(strings.ReplaceAll(text, "\r\n", "\n"), "http://somewhere")
}

func TestTheDemoIsPlainWhereThatIsAskedFor(t *testing.T) {
	plain := demo(t)
	for _, c := range []struct {
		name, term, noColor string
		plain               bool
	}{
		{"a terminal", "xterm", "", false},
		{"NO_COLOR", "xterm", "1", true},
		{"TERM=dumb", "dumb", "", true},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Setenv("TERM", c.term)
			t.Setenv("NO_COLOR", c.noColor)
			text := onTerminal(t)
			if (text == plain) != c.plain {
				t.Errorf("%d bytes, %d in a pipe; equal: %v", len(text), len(plain), text == plain)
			}
			if strings.Contains(text, "\r") == c.plain {
				t.Errorf("a line that is written over: %v", !c.plain)
			}
			for line := range strings.SplitSeq(strings.TrimSpace(text), "\n") {
				if !strings.Contains(line, "simulated") {
					t.Errorf("%q", line)
				}
			}
		})
	}
}

// Root may read everything, so that this thread becomes nobody to the file
// system. It ends with the test.
func TestWhatMayNotBeReadEndsWith77(t *testing.T) {
	secret := file(t, "secret.yaml", "profile: P\n")
	if err := os.Chmod(secret, 0); err != nil {
		t.Fatal(err)
	}
	const nobody = 65534
	runtime.LockOSThread() // and never unlocked
	if os.Geteuid() == 0 {
		if err := syscall.Setfsuid(nobody); err != nil {
			t.Fatal(err)
		}
		defer syscall.Setfsuid(0)
	}
	for _, args := range [][]string{{"check", secret}, {"check", "--show", secret}, {"plan", "--rig", yard, secret}, {"plan", "--rig", secret, brew}} {
		ending{77, "permission denied", args}.check(t)
	}
}
