package house

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// pot is a kettle of water in this process, as a plant that listens.
type pot struct {
	celsius float64
	heated  int // seconds
}

// answer passes one second and says what the probe reads.
func (p *pot) answer(line []byte) (string, error) {
	var tick struct {
		Tick  *int `json:"tick"`
		Relay bool `json:"relay"`
	}
	if err := json.Unmarshal(line, &tick); err != nil {
		return "", err
	}
	if tick.Tick == nil {
		return "{}\n", nil
	}
	if tick.Relay {
		p.celsius += 0.02
		p.heated++
	}
	return fmt.Sprintf("{\"reading\": %.3f, \"fault\": \"\", \"true_mash\": %.3f}\n", p.celsius, p.celsius), nil
}

// Ctrl-C in the middle of full power: the program ends at once, stores nothing,
// says so, and asks for no more heat.
func TestScenarioAWaterTestIsEndedByItsPerson(t *testing.T) {
	p := build(t)
	for _, format := range []string{"text", "json"} {
		p.write("kettle.tuning.yaml", "as it was\n")
		socket := filepath.Join(t.TempDir(), "plant")
		listener, err := net.Listen("unix", socket)
		if err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(p.path, "tune", "--rig", sample(t, days[0][1]), "--plant", "unix:"+socket, "--out", "kettle.tuning.yaml", "--format", format)
		cmd.Dir = p.folder
		var out, errOut bytes.Buffer
		cmd.Stdout, cmd.Stderr = &out, &errOut
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		heated := heatUntilSignalled(t, listener, cmd)
		listener.Close()
		if err := cmd.Wait(); err == nil || cmd.ProcessState.ExitCode() != 1 {
			t.Errorf("%s: %v, exit code %d, not 1\n%s", format, err, cmd.ProcessState.ExitCode(), errOut.String())
		}
		if heated > 300 {
			t.Errorf("%s: the element was on for %d s more", format, heated)
		}
		wants := []string{"Not stored: ended by you after ", "Not heating; still live: isolate before opening or reaching in."}
		if format == "json" {
			wants = []string{`"accepted": false`, `"reason": "ended by you after `}
		}
		for _, want := range wants {
			if !strings.Contains(out.String(), want) {
				t.Errorf("%s: it does not say %q:\n%s", format, want, out.String())
			}
		}
		if text, err := os.ReadFile(filepath.Join(p.folder, "kettle.tuning.yaml")); err != nil || string(text) != "as it was\n" {
			t.Errorf("%s: the tuning that was there is now %q, %v", format, text, err)
		}
		if files, _ := filepath.Glob(filepath.Join(p.folder, "kettle.tuning.yaml.*")); len(files) > 0 {
			t.Errorf("%s: left behind: %v", format, files)
		}
	}
}

// heatUntilSignalled is the plant's side: after a minute of heat the program is
// interrupted as a terminal would, and from then on a second takes a
// millisecond, so that there is time for the program to hear it. It returns
// for how many seconds the element was on after that.
func heatUntilSignalled(t *testing.T, listener net.Listener, cmd *exec.Cmd) int {
	t.Helper()
	conn, err := listener.Accept()
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	pace := time.NewTicker(time.Millisecond)
	defer pace.Stop()
	water, before := pot{celsius: 12}, 0
	for in := bufio.NewScanner(conn); in.Scan(); {
		text, err := water.answer(in.Bytes())
		if err != nil {
			t.Fatal(err)
		}
		if before == 0 && water.heated == 60 {
			before = water.heated
			if err := cmd.Process.Signal(syscall.SIGINT); err != nil {
				t.Fatal(err)
			}
		}
		if before > 0 {
			<-pace.C
		}
		if _, err := conn.Write([]byte(text)); err != nil {
			break // the program has gone
		}
	}
	return water.heated - before
}
