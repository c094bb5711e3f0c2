package main

import (
	"context"
	"strings"
	"testing"
	"time"

	"mashward/deploy/yardstick"
)

// What is typed before the daemon stands there answers nothing; after that Enter says
// how it stands, and a wish is told. A pipe is no person.
func TestTheTerminalOfTheDaemonShowsAndTakesWishes(t *testing.T) {
	t.Setenv("TERM", "xterm")
	outer, inner := yardstick.PseudoTerminal(t)
	y := yardstick.NewTypist(t, outer)
	y.Types("stop\n")
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	s := serve{rig: yard, profiles: t.TempDir(), listen: "127.0.0.1:0", simulate: true, speed: 20}
	go func() { ended <- s.run(ctx, &call{in: inner, out: inner, err: inner}) }()
	y.Sees("stop is STOP.", 10*time.Second)
	y.Types("\n")
	y.Sees("What can be told: stop, seen", 10*time.Second)
	y.Types("pause\n")
	y.Sees("Refused: ", 10*time.Second)
	y.Types("stop\n")
	y.Sees("Heat and pump are off.", 10*time.Second)
	if n := strings.Count(y.All(), "Heat and pump are off."); n != 1 {
		t.Errorf("what was typed before was told too: %d times off", n)
	}
	stop()
	if err := <-ended; err != nil {
		t.Error(err)
	}
	(&call{in: strings.NewReader("stop\n"), err: &strings.Builder{}}).console("127.0.0.1:1") // returns at once
}
