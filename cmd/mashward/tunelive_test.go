package main

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/picture"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/tune"
	"mashward/controller/unit"
	"mashward/sensors"
)

// screen is a terminal of 24 rows that knows what the picture uses of ECMA-48:
// the cursor up, erasing to the end of the line and of the screen.
type screen struct {
	t     *testing.T
	rows  []string
	at    int // row of the cursor; it stands at its beginning between writes
	draws int
}

var control = regexp.MustCompile(`^\x1b\[(\??[0-9]*)([A-Za-z])`)

// Write implements io.Writer.
func (s *screen) Write(b []byte) (int, error) {
	s.draws++
	text, breaks := string(b), true
	for text != "" {
		if m := control.FindStringSubmatch(text); m != nil {
			s.control(m[1], m[2], &breaks)
			text = text[len(m[0]):]
			continue
		}
		r := []rune(text)[0]
		text = text[len(string(r)):]
		switch r {
		case '\n':
			if s.at++; s.at > 23 {
				s.t.Fatal("the screen scrolls: what is drawn over it is torn")
			}
		case '\r':
		default:
			for len(s.rows) <= s.at {
				s.rows = append(s.rows, "")
			}
			s.rows[s.at] += string(r)
			continue
		}
		if s.at < len(s.rows) && text != "" && !strings.HasPrefix(text, "\x1b") {
			s.rows[s.at] = "" // what is written next begins at the left
		}
	}
	if !breaks {
		s.t.Error("lines are left unbroken for whoever writes next")
	}
	return len(b), nil
}

func (s *screen) control(number, letter string, breaks *bool) {
	switch number + letter {
	case "K": // the rest of the line: rows are written from their beginning
	case "J":
		s.rows = s.rows[:min(len(s.rows), s.at)]
	case "?7l":
		*breaks = false
	case "?7h":
		*breaks = true
	case fmt.Sprintf("%dA", picture.TerminalRows):
		if s.at < picture.TerminalRows {
			s.t.Fatal("the cursor goes up beyond what was drawn")
		}
		s.at -= picture.TerminalRows
		s.rows = s.rows[:s.at]
	default:
		s.t.Fatalf("ESC [ %s%s", number, letter)
	}
}

// moment is a frame of a water test at a second: 90 s of rest, ten minutes of
// full power, quiet.
func moment(second int, reading float64) *loop.Frame {
	f := &loop.Frame{}
	f.Tick.Reading = sensors.Reading{Value: unit.Celsius(reading), Fault: sensors.None}
	f.Decision = controller.Decision{Mode: controller.Running, Clock: time.Duration(second) * time.Second, Filtered: unit.Celsius(reading), Stage: controller.Still}
	switch {
	case second >= 690:
		f.Decision.Stage = controller.Quiet
	case second >= 90:
		f.Decision.Stage, f.Tick.Applied = controller.Push, unit.On
	}
	return f
}

// onScreen is a live picture on a screen, with real time as the test has it.
func onScreen(t *testing.T) (*live, *screen, *time.Time) {
	s, now := &screen{t: t}, time.Unix(0, 0)
	l := newLive(&call{out: s}, &found{rig: config.Rig{Name: "Yard kettle"}, water: 25}, tune.Known{Power: 3000, Load: 110e3})
	l.now = func() time.Time { return now }
	return l, s, &now
}

func TestTheLivePictureIsDrawnOverItself(t *testing.T) {
	l, s, now := onScreen(t)
	for second := range 1500 {
		l.Watch(moment(second, 12+8*min(max(0, float64(second-90)/600), 1)))
		*now = now.Add(time.Second)
		if second == 400 {
			text := strings.Join(s.rows, "\n")
			for _, want := range []string{"SIMULATED", "Yard kettle, 25.0 L", "16.1 °C", "element ON", "full power (2 of 3)", "about 5 min of full power, about 20 min in all", "Ctrl-C ends it; the element goes off"} {
				if !strings.Contains(text, want) {
					t.Errorf("the picture lacks %q:\n%s", want, text)
				}
			}
		}
	}
	if s.draws != 1500 {
		t.Errorf("drawn %d times in 1500 s", s.draws)
	}
	l.finish("done")
	if got, want := strings.TrimSpace(strings.Join(s.rows, "\n")), strings.TrimSpace(l.picture.Terminal(80)); got != want {
		t.Errorf("on the screen stands\n%s\nand should\n%s", got, want)
	}
	for _, want := range []string{"done", "It took 24 min.", "Not heating; still live: isolate before opening or reaching in.", "element off"} {
		if text := strings.Join(s.rows, "\n"); !strings.Contains(text, want) {
			t.Errorf("the picture that is left standing lacks %q:\n%s", want, text)
		}
	}
}

func TestTheLivePictureIsDrawnTenTimesASecondAtMost(t *testing.T) {
	l, s, now := onScreen(t)
	for second := range 2000 { // a test that takes one second
		l.Watch(moment(second, 12))
		*now = now.Add(500 * time.Microsecond)
	}
	if s.draws < 9 || s.draws > 11 {
		t.Errorf("drawn %d times in a second", s.draws)
	}
}

// The words follow the stages, and know no more than is known.
func TestTheLivePictureSaysHowLong(t *testing.T) {
	l, _, _ := onScreen(t)
	said := map[int]string{}
	for second := range 1590 {
		l.Watch(moment(second, 12+8*min(max(0, float64(second-90)/600), 1)))
		said[second] = l.picture.Stage + ": " + l.picture.ToGo
	}
	for second, want := range map[int]string{
		0:    "the water comes to rest (1 of 3): To go: 1 min 30 s at least before full power, about 21 min in all.",
		90:   "full power (2 of 3): To go: about 5 min of full power, about 20 min in all.", // by what was declared
		300:  "full power (2 of 3): To go: about 7 min of full power, about 22 min in all.", // by what was seen
		680:  "full power (2 of 3): To go: less than 1 min of full power, about 15 min in all.",
		690:  "left alone (3 of 3): To go: 15 min.",
		1580: "left alone (3 of 3): To go: 10 s.",
	} {
		if said[second] != want {
			t.Errorf("after %d s: %q, not %q", second, said[second], want)
		}
	}
	l, _, _ = onScreen(t)
	f := moment(80, 12)
	l.Watch(f)
	f.Decision.Clock = 200 * time.Second
	l.Watch(f)
	if want := "To go: until the water rests; from then on about 20 min."; l.picture.ToGo != want {
		t.Errorf("%q, not %q", l.picture.ToGo, want)
	}
	if !math.IsNaN(l.picture.Goal) {
		t.Error("a goal before full power began")
	}
}

func TestOnlyATerminalShowsAWaterTest(t *testing.T) {
	for _, format := range []string{"text", "json"} {
		a := mashward("tune", "--simulate", "--rig", yard, "--format", format, "--out", filepath.Join(t.TempDir(), "t.yaml"))
		if a.code != 0 || strings.ContainsAny(a.out+a.err, "\r\x1b⠁█") {
			t.Errorf("%s: exit code %d\n%s%s", format, a.code, a.out, a.err)
		}
	}
	device, err := os.OpenFile(os.DevNull, os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer device.Close()
	t.Setenv("TERM", "xterm")
	t.Setenv("NO_COLOR", "")
	var errOut bytes.Buffer
	if code := run([]string{"tune", "--simulate", "--rig", yard, "--out", filepath.Join(t.TempDir(), "t.yaml")}, strings.NewReader(""), device, &errOut); code != 0 || errOut.Len() > 0 {
		t.Errorf("exit code %d, on standard error: %s", code, errOut.String())
	}
}
