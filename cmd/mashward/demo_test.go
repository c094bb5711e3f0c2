package main

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

// somewhere stands for an address, which differs from run to run.
var somewhere = regexp.MustCompile(`http://[^ \n]*`)

func demo(t *testing.T) string {
	t.Helper()
	a := mashward("demo", "--speed", "0")
	if a.code != 0 || a.err != "" {
		t.Fatalf("exit code %d: %s", a.code, a.err)
	}
	return somewhere.ReplaceAllString(a.out, "http://somewhere")
}

func TestEveryLineOfTheDemoSaysThatItIsSimulated(t *testing.T) {
	out := demo(t)
	lines := strings.Split(strings.TrimSuffix(out, "\n"), "\n")
	if len(lines) < 30 {
		t.Errorf("%d lines are no brew day:\n%s", len(lines), out)
	}
	for _, line := range lines {
		if !strings.Contains(line, "simulated") {
			t.Errorf("%q", line)
		}
	}
	if strings.ContainsAny(out, "\r\x1b") {
		t.Error("control characters in a pipe")
	}
	for _, step := range []string{"strike", "mash-in", "rest", "mash-out", "lift", "boil", "chill", "finished (all steps done)"} {
		if !strings.Contains(out, step) {
			t.Errorf("the day has no %s:\n%s", step, out)
		}
	}
	if !strings.HasSuffix(out, "\n") {
		t.Error("the last line is not ended")
	}
}

func TestTheDemoIsTheSameEveryTime(t *testing.T) {
	if first, second := demo(t), demo(t); first != second {
		t.Errorf("first\n%s\nsecond\n%s", first, second)
	}
}

func TestExitCodesOfDemo(t *testing.T) {
	for _, e := range []ending{
		{64, "it takes no file", []string{"demo", brew}},
		{64, "--speed fast: write a number", []string{"demo", "--speed", "fast"}},
		{64, "0 for as fast as it goes", []string{"demo", "--speed", "-2"}},
	} {
		e.check(t)
	}
}

// A character device stands for a terminal here: NO_COLOR, TERM=dumb, no TERM and
// a pipe each ask for plain lines.
func TestOnlyATerminalIsWrittenOver(t *testing.T) {
	device, err := os.OpenFile(os.DevNull, os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer device.Close()
	read, pipe, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer read.Close()
	defer pipe.Close()
	for _, c := range []struct {
		out           *os.File
		term, noColor string
		want          bool
	}{
		{device, "xterm", "", true},
		{device, "xterm", "1", false},
		{device, "dumb", "", false},
		{device, "", "", false},
		{pipe, "xterm", "", false},
	} {
		t.Setenv("TERM", c.term)
		t.Setenv("NO_COLOR", c.noColor)
		if got := terminal(c.out); got != c.want {
			t.Errorf("%s, TERM=%q NO_COLOR=%q: %v", c.out.Name(), c.term, c.noColor, got)
		}
	}
	if terminal(&strings.Builder{}) {
		t.Error("a buffer is a terminal")
	}
}
