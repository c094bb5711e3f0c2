//go:build linux

package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// moment is something the board told, or an edge of the relay's line.
type moment struct {
	at   time.Time
	what string // "" for an edge
	on   bool   // of an edge
}

// outside builds, starts, listens and judges.
func outside(kernel, qemu string) (failed bool, err error) {
	folder, err := os.MkdirTemp("", "mashward-board-")
	if err != nil {
		return false, err
	}
	defer os.RemoveAll(folder)
	archive := filepath.Join(folder, "files.cpio")
	if err := pack(folder, archive); err != nil {
		return false, err
	}
	trace := filepath.Join(folder, "trace")
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, qemu, "-M", "virt,gic-version=2", "-cpu", "cortex-a53", "-accel", "tcg", "-smp", "1", "-m", "512",
		"-nodefaults", "-no-user-config", "-display", "none", "-serial", "stdio", "-monitor", "none", "-no-reboot",
		"-kernel", kernel, "-initrd", archive, "-append", "console=ttyAMA0 panic=-1 quiet loglevel=4",
		"-trace", "enable=pl061_set_output", "-msg", "timestamp=on", "-D", trace)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		return false, err
	}
	if err := cmd.Start(); err != nil {
		return false, err
	}
	told := listen(out)
	if err := cmd.Wait(); err != nil {
		return false, fmt.Errorf("%s: %w", qemu, err)
	}
	text, err := os.ReadFile(trace)
	if err != nil {
		return false, err
	}
	if len(told) == 0 {
		return false, errNothing
	}
	return judge(told, edges(string(text))), nil
}

// listen takes what the board tells, with the time it came.
func listen(out io.Reader) (told []moment) {
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		text := strings.TrimSpace(lines.Text())
		fmt.Println("  |", text)
		if what, ours := strings.CutPrefix(text, mark); ours {
			told = append(told, moment{at: time.Now(), what: what})
		}
	}
	return told
}

// edge is how QEMU writes an edge of line 1 down.
var edge = regexp.MustCompile(`(?m)@([0-9]+)\.([0-9]{6}):pl061_set_output .* setting output 1 to ([01])`)

// edges reads QEMU's trace.
func edges(trace string) (all []moment) {
	for _, m := range edge.FindAllStringSubmatch(trace, -1) {
		seconds, _ := strconv.ParseInt(m[1], 10, 64)
		micro, _ := strconv.ParseInt(m[2], 10, 64)
		all = append(all, moment{at: time.Unix(seconds, micro*1000), on: m[3] == "1"})
	}
	return all
}

// limits are how long the line may stay on after a blow. The emulator is some
// ten times slower than a board.
var limits = map[string]time.Duration{
	killed: time.Second, stopped: 3500 * time.Millisecond, keeperGone: 2 * time.Second, elementOff: 2 * time.Second,
}

// judge compares what was done with what the line did.
func judge(told, edges []moment) (failed bool) {
	fail := func(format string, args ...any) {
		failed = true
		fmt.Printf("WRONG: "+format+"\n", args...)
	}
	heated := 0
	for i, m := range told {
		switch {
		case strings.HasPrefix(m.what, wrongEnding):
			fail("%s", m.what)
		case m.what == heats:
			heated++
			if !level(edges, m.at) {
				fail("the program says that it heats, and the line is off")
			}
		case m.what == bothGone:
			if off, ok := offAfter(edges, m.at); !ok || i+1 == len(told) || off.Before(told[i+1].at) {
				fail("with both gone the line went off by itself: element-off shows nothing")
			}
		case limits[m.what] > 0:
			off, ok := offAfter(edges, m.at)
			took := off.Sub(m.at)
			if !ok || took > limits[m.what] {
				fail("%s: off after %v (%v), want %v", m.what, took, ok, limits[m.what])
			}
			fmt.Printf("%-16s line off after %5d ms\n", m.what, took.Milliseconds())
		}
	}
	if heated != 3 || told[len(told)-1].what != ended {
		fail("it heated %d times, want 3; the last word is %q", heated, told[len(told)-1].what)
	}
	// On by the daemon thrice, and once more after its keeper was replaced.
	ons := 0
	for _, e := range edges {
		if e.on {
			ons++
		}
	}
	if ons != 4 {
		fail("the line went on %d times, want 4: a start or an end pulsed it", ons)
	}
	return failed
}

// level is what the line was at an instant.
func level(edges []moment, at time.Time) (on bool) {
	for _, e := range edges {
		if e.at.After(at) {
			break
		}
		on = e.on
	}
	return on
}

// offAfter is when the line was off from an instant on, which may be before it.
func offAfter(edges []moment, at time.Time) (time.Time, bool) {
	if !level(edges, at) {
		return at, true
	}
	for _, e := range edges {
		if e.at.After(at) && !e.on {
			return e.at, true
		}
	}
	return time.Time{}, false
}

// pack builds what runs on the board, and makes the archive of its files.
func pack(folder, archive string) error {
	for name, from := range map[string]string{"init": "./deploy/board", "mashward": "./cmd/mashward"} {
		cmd := exec.Command("go", "build", "-trimpath", "-ldflags", "-s -w", "-o", filepath.Join(folder, name), from)
		cmd.Env = append(os.Environ(), "CGO_ENABLED=0", "GOOS=linux", "GOARCH=arm64")
		if said, err := cmd.CombinedOutput(); err != nil {
			return fmt.Errorf("%s does not build: %w\n%s", from, err, said)
		}
	}
	var b bytes.Buffer
	for _, name := range []string{"proc", "sys", "dev", "run", "tmp", "profiles"} {
		entry(&b, name, 0o040755, nil)
	}
	for _, name := range []string{"init", "mashward"} {
		text, err := os.ReadFile(filepath.Join(folder, name))
		if err != nil {
			return err
		}
		entry(&b, name, 0o100755, text)
	}
	entry(&b, "rig.yaml", 0o100644, []byte(rigText))
	entry(&b, "profiles/day.yaml", 0o100644, []byte(dayText))
	entry(&b, "TRAILER!!!", 0, nil)
	return os.WriteFile(archive, b.Bytes(), 0o644)
}

// entry adds a file to an archive of cpio's "newc" format, which the kernel
// unpacks (Linux, buffer-format.rst).
func entry(b *bytes.Buffer, name string, mode uint32, text []byte) {
	number := b.Len() + 1 // any that differs
	fmt.Fprintf(b, "070701%08X%08X%08X%08X%08X%08X%08X%08X%08X%08X%08X%08X%08X",
		number, mode, 0, 0, 1, 0, len(text), 0, 0, 0, 0, len(name)+1, 0)
	b.WriteString(name + "\x00")
	padded := func() {
		for b.Len()%4 != 0 {
			b.WriteByte(0)
		}
	}
	padded()
	b.Write(text)
	padded()
}
