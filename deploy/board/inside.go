//go:build linux

package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"syscall"
	"time"
	"unsafe"
)

// inside is the first process of the board: it drives the program as a person
// would, and kills it as nobody should.
func inside() {
	defer func() { _ = syscall.Reboot(syscall.LINUX_REBOOT_CMD_POWER_OFF) }()
	for _, m := range [][2]string{{"proc", "/proc"}, {"sysfs", "/sys"}, {"devtmpfs", "/dev"}, {"tmpfs", "/run"}, {"tmpfs", "/tmp"}} {
		check(syscall.Mount(m[0], m[1], m[0], 0, ""))
	}
	check(loopback())
	check(os.WriteFile("/run/probe", []byte("20000\n"), 0o644))
	check(os.Mkdir("/run/state", 0o755))
	ends(69, "element-off", "gpio", "NO-SUCH-LINE")
	ends(0, "element-off", "gpio", relayLine)

	d := heat()
	ends(69, "serve", "--rig", "/rig.yaml", "--listen", "127.0.0.1:8974")
	ends(69, "element-off", "--state", "/run/state")
	tell(killed)
	d.end()
	time.Sleep(2 * time.Second)
	ends(0, "element-off", "--state", "/run/state")

	d = heat()
	tell(stopped)
	check(d.Process.Signal(syscall.SIGSTOP))
	time.Sleep(5 * time.Second)
	d.end()

	d = heat()
	tell(keeperGone)
	check(syscall.Kill(d.keeper(), syscall.SIGKILL))
	time.Sleep(4 * time.Second)
	tell(bothGone)
	keeper := d.keeper()
	check(d.Process.Signal(syscall.SIGSTOP)) // so that it starts no other one
	check(syscall.Kill(keeper, syscall.SIGKILL))
	d.end()
	time.Sleep(5 * time.Second)
	tell(elementOff)
	ends(0, "element-off", "--state", "/run/state")
	tell(ended)
	time.Sleep(100 * time.Millisecond) // for the last words to get out
}

func tell(what string) { fmt.Println(mark + what) }

func check(err error) {
	if err != nil {
		tell(wrongEnding + err.Error())
	}
}

// ends runs the program and wants an exit code.
func ends(code int, args ...string) {
	cmd := exec.Command("/mashward", args...)
	said, _ := cmd.CombinedOutput()
	fmt.Printf("mashward %s: exit code %d\n%s", strings.Join(args, " "), cmd.ProcessState.ExitCode(), said)
	if got := cmd.ProcessState.ExitCode(); got != code {
		tell(fmt.Sprintf("%smashward %s ends with %d, not %d", wrongEnding, strings.Join(args, " "), got, code))
	}
}

// loopback brings up the one network there is.
func loopback() error {
	s, err := syscall.Socket(syscall.AF_INET, syscall.SOCK_DGRAM, 0)
	if err != nil {
		return err
	}
	defer syscall.Close(s)
	var request struct { // struct ifreq of linux/if.h
		name  [16]byte
		flags uint16
		_     [22]byte
	}
	copy(request.name[:], "lo")
	request.flags = syscall.IFF_UP | syscall.IFF_RUNNING
	if _, _, e := syscall.Syscall(syscall.SYS_IOCTL, uintptr(s), syscall.SIOCSIFFLAGS, uintptr(unsafe.Pointer(&request))); e != 0 {
		return e
	}
	return nil
}

// daemon is a mashward that serves.
type daemon struct{ *exec.Cmd }

func (d daemon) end() {
	check(d.Process.Kill())
	_ = d.Wait() // it was killed
}

// keeper is the process of the daemon's keeper, its only child.
func (d daemon) keeper() int {
	all, err := os.ReadDir("/proc")
	check(err)
	for _, p := range all {
		id, err := strconv.Atoi(p.Name())
		if err != nil {
			continue
		}
		stat, _ := os.ReadFile("/proc/" + p.Name() + "/stat")
		fields := strings.Fields(string(stat[bytes.LastIndexByte(stat, ')')+1:]))
		if len(fields) > 1 && fields[1] == strconv.Itoa(d.Process.Pid) {
			return id
		}
	}
	tell(wrongEnding + "there is no keeper")
	return 0
}

// heat starts a daemon and has it heat: rehearsed, armed and begun.
func heat() daemon {
	d := daemon{exec.Command("/mashward", "serve", "--rig", "/rig.yaml", "--profiles", "/profiles", "--state", "/run/state")}
	d.Stdout, d.Stderr = os.Stdout, os.Stderr
	check(d.Start())
	until(func() bool { _, good := ask(http.MethodGet, "/-/ready", ""); return good })
	ask(http.MethodPost, "/api/v1/rehearsal", `{"profile": "day"}`)
	day, _ := ask(http.MethodGet, "/api/v1/profiles/day", "")
	armed, _ := ask(http.MethodPost, "/api/v1/arm",
		fmt.Sprintf(`{"profile": "day", "hash": %q, "litres": 25, "bag_clear": true, "valve_shut": true, "rcd_tested": true}`, day["hash"]))
	_, good := ask(http.MethodPost, "/api/v1/start", fmt.Sprintf(`{"nonce": %q}`, armed["nonce"]))
	if !good {
		tell(wrongEnding + "the batch does not begin")
	}
	until(func() bool { s, _ := ask(http.MethodGet, "/api/v1/state", ""); return s["heating"] == true })
	tell(heats)
	return d
}

// until waits for something, a minute at most.
func until(done func() bool) {
	for began := time.Now(); !done(); time.Sleep(20 * time.Millisecond) {
		if time.Since(began) > time.Minute {
			tell(wrongEnding + "nothing happens")
			return
		}
	}
}

// ask asks the daemon; good tells that the answer was.
func ask(method, path, body string) (answer map[string]any, good bool) {
	r, err := http.NewRequest(method, "http://127.0.0.1:8973"+path, strings.NewReader(body))
	if err != nil {
		return nil, false
	}
	r.Header.Set("Content-Type", "application/json")
	a, err := http.DefaultClient.Do(r)
	if err != nil {
		return nil, false
	}
	defer a.Body.Close()
	text, err := io.ReadAll(a.Body)
	if err != nil || json.Unmarshal(text, &answer) != nil && path != "/-/ready" {
		return nil, false
	}
	return answer, a.StatusCode == http.StatusOK
}
