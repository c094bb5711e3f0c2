//go:build unix

package house

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// A kettle of files: the relay is a file that mashward writes, the probe one
// that it reads. What is behind them is not the program's business.

// bigRig heats for longer than any test here looks at it.
const bigRig = `rig: Kettle of files
kettle: {capacity: 50 L, element_covered_at: 12 L, vessel: 4.1 kJ/K, loss: 7 W/K}
element: {power: 3000 W, relay: {driver: sysfs, line: %[1]s/relay, type: solid-state}}
probe: {driver: sysfs, id: %[1]s/probe, place: outlet, covered_at: 9 L}
`

const bigProfile = `profile: Warm water
water: 25 L
steps:
  - {rest: 60 °C, for: 2 min}
`

// daemon is a mashward that serves a kettle of files.
type daemon struct {
	t       *testing.T
	p       program
	cmd     *exec.Cmd
	address string
	relay   string

	mu   sync.Mutex
	said bytes.Buffer
	all  chan struct{} // closed when nothing more will be said
}

// files writes rig, profile, relay and probe into the program's folder.
func (p program) files(rig, profile string, celsius float64) {
	p.t.Helper()
	if runtime.GOOS != "linux" {
		p.t.Skip("a real kettle is driven on Linux only")
	}
	p.write("rig.yaml", fmt.Sprintf(rig, p.folder))
	p.write("day.yaml", profile)
	p.write("relay", "1\n") // as a board may leave it
	p.write("probe", strconv.Itoa(int(celsius*1000))+"\n")
}

// daemon starts a daemon through a command, if there is one, and waits until it
// serves. It is killed with the test.
func (p program) daemon(through ...string) *daemon {
	p.t.Helper()
	return p.daemonAt("/", through...)
}

// daemonAt has the kernel's files begin at a folder.
func (p program) daemonAt(root string, through ...string) *daemon {
	p.t.Helper()
	return p.start(through, "--root", root)
}

// start starts a daemon through a command with further options.
func (p program) start(through []string, options ...string) *daemon {
	p.t.Helper()
	words := append(through, p.path, "serve", "--rig", "rig.yaml", "--profiles", ".", "--state", "state", "--listen", "127.0.0.1:0")
	words = append(words, options...)
	d := &daemon{t: p.t, p: p, relay: filepath.Join(p.folder, "relay"), all: make(chan struct{})}
	d.cmd = exec.Command(words[0], words[1:]...)
	d.cmd.Dir = p.folder
	d.cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} // it leads a group, as a service does
	said, err := d.cmd.StderrPipe()
	if err != nil {
		p.t.Fatal(err)
	}
	if err := d.cmd.Start(); err != nil {
		p.t.Fatal(err)
	}
	p.t.Cleanup(func() { _ = d.cmd.Process.Kill(); _ = d.cmd.Wait() })
	found := make(chan string, 1)
	go func() {
		in := bufio.NewScanner(said)
		for in.Scan() {
			d.mu.Lock()
			d.said.WriteString(in.Text() + "\n")
			d.mu.Unlock()
			if m := address.FindStringSubmatch(in.Text()); m != nil {
				found <- m[1]
			}
		}
		close(found)
		close(d.all)
	}()
	if d.address = <-found; d.address == "" {
		p.t.Fatalf("it does not serve: %s", d.text())
	}
	return d
}

// text is what the daemon has said so far.
func (d *daemon) text() string {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.said.String()
}

// ends waits for an orderly end. All that was said is read first: Wait would close
// the pipe, and what a busy machine has not read by then would be lost.
func (d *daemon) ends() error {
	<-d.all
	return d.cmd.Wait()
}

// post asks for something and wants it granted.
func (d *daemon) post(path string, body, answer any) {
	d.t.Helper()
	text, err := json.Marshal(body)
	if err != nil {
		d.t.Fatal(err)
	}
	r, err := http.Post(d.address+path, "application/json", bytes.NewReader(text))
	if err != nil {
		d.t.Fatalf("%s: %v\n%s", path, err, d.text())
	}
	defer r.Body.Close()
	got, err := io.ReadAll(r.Body)
	if err != nil || r.StatusCode != http.StatusOK {
		d.t.Fatalf("%s: %s, %v\n%s\n%s", path, r.Status, err, got, d.text())
	}
	if answer != nil {
		if err := json.Unmarshal(got, answer); err != nil {
			d.t.Fatal(err)
		}
	}
}

// heat rehearses, arms and begins, as a person would, until the relay is on.
func (d *daemon) heat(litres float64) {
	d.t.Helper()
	d.ready()
	if d.on() {
		d.t.Fatal("the relay is on in an idle daemon")
	}
	d.begin(litres)
	d.until(10*time.Second, "it does not heat", d.on)
}

// ready waits until the loop ticks and the probe reads.
func (d *daemon) ready() {
	d.t.Helper()
	d.until(10*time.Second, "it is not ready", func() bool {
		r, err := http.Get(d.address + "/-/ready")
		if err != nil {
			return false
		}
		defer r.Body.Close()
		return r.StatusCode == http.StatusOK
	})
}

// begin rehearses, arms and starts the day.
func (d *daemon) begin(litres float64) {
	d.t.Helper()
	d.post("/api/v1/rehearsal", map[string]any{"profile": "day"}, nil)
	var plan struct {
		Hash string `json:"hash"`
	}
	if err := json.Unmarshal([]byte(get(d.t, d.address+"/api/v1/profiles/day")), &plan); err != nil {
		d.t.Fatal(err)
	}
	var armed struct {
		Nonce string `json:"nonce"`
	}
	d.post("/api/v1/arm", map[string]any{
		"profile": "day", "hash": plan.Hash, "litres": litres, "bag_clear": true, "valve_shut": true, "rcd_tested": true,
	}, &armed)
	d.post("/api/v1/start", map[string]any{"nonce": armed.Nonce}, nil)
}

// stop presses STOP, and waits for nothing.
func (d *daemon) stop() {
	if r, err := http.Post(d.address+"/api/v1/stop", "", nil); err == nil {
		r.Body.Close()
	}
}

// on tells what the relay's file says.
func (d *daemon) on() bool {
	text, err := os.ReadFile(d.relay)
	if err != nil {
		d.t.Error(err)
	}
	return strings.HasPrefix(string(text), "1")
}

// until waits for something, looking each millisecond, and tells how long it took.
func (d *daemon) until(patience time.Duration, complaint string, done func() bool) time.Duration {
	d.t.Helper()
	began := time.Now()
	tick := time.NewTicker(time.Millisecond)
	defer tick.Stop()
	for !done() {
		<-tick.C
		if time.Since(began) > patience {
			d.t.Fatalf("%s after %v\n%s", complaint, patience, d.text())
		}
	}
	return time.Since(began)
}

// stays wants the relay to stay off for a while.
func (d *daemon) stays(patience time.Duration, when string) {
	d.t.Helper()
	tick := time.NewTicker(time.Millisecond)
	defer tick.Stop()
	for began := time.Now(); time.Since(began) < patience; <-tick.C {
		if d.on() {
			d.t.Fatalf("%s the relay went on after %v", when, time.Since(began))
		}
	}
}

// signal sends the daemon a signal.
func (d *daemon) signal(s syscall.Signal) {
	d.t.Helper()
	if err := d.cmd.Process.Signal(s); err != nil {
		d.t.Fatal(err)
	}
}

// group sends the daemon's process group a signal, as a terminal does.
func (d *daemon) group(s syscall.Signal) {
	d.t.Helper()
	if err := syscall.Kill(-d.cmd.Process.Pid, s); err != nil {
		d.t.Fatal(err)
	}
}

// keeper is the process id of the daemon's keeper, its only child.
func (d *daemon) keeper() int {
	d.t.Helper()
	all, err := filepath.Glob("/proc/[0-9]*/stat")
	if err != nil {
		d.t.Fatal(err)
	}
	for _, path := range all {
		text, _ := os.ReadFile(path) // it may have ended meanwhile
		_, after, _ := strings.Cut(string(text), ") ")
		if fields := strings.Fields(after); len(fields) < 2 || fields[1] != strconv.Itoa(d.cmd.Process.Pid) {
			continue
		}
		if id, err := strconv.Atoi(filepath.Base(filepath.Dir(path))); err == nil {
			return id
		}
	}
	d.t.Fatal("there is no keeper")
	return 0
}

// visitors connect and say nothing.
func visitors(t *testing.T, address string, n int) {
	t.Helper()
	for range n {
		conn, err := net.DialTimeout("tcp", strings.TrimPrefix(address, "http://"), time.Second)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { conn.Close() })
	}
}
