//go:build unix

package house

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// However the daemon goes, heat goes. Each is measured from outside, by the
// relay's file, from the blow to the first look that shows off.

// offWithin is what is promised; offInFact what the lease gives, with its
// slack for a busy machine.
const (
	offWithin = 10 * time.Second
	offInFact = 3500 * time.Millisecond
	atOnce    = 1000 * time.Millisecond
)

func TestScenarioHeatEndsHoweverTheDaemonDoes(t *testing.T) {
	t.Parallel()
	p := build(t)
	for name, c := range map[string]struct {
		blow   func(d *daemon)
		within time.Duration
	}{
		"killed":                {func(d *daemon) { d.signal(syscall.SIGKILL) }, atOnce},
		"stopped":               {func(d *daemon) { d.signal(syscall.SIGSTOP) }, offInFact},
		"crashed":               {func(d *daemon) { d.signal(syscall.SIGSEGV) }, atOnce},
		"aborted by a watchdog": {func(d *daemon) { d.signal(syscall.SIGABRT) }, atOnce},
		"ended by its manager":  {func(d *daemon) { d.signal(syscall.SIGTERM) }, atOnce},
		"its group killed":      {func(d *daemon) { d.group(syscall.SIGKILL) }, atOnce},
		"its group interrupted": {func(d *daemon) { d.group(syscall.SIGINT) }, atOnce},
		"STOP is pressed":       {func(d *daemon) { go d.stop() }, atOnce},
		"its keeper killed":     {func(d *daemon) { _ = syscall.Kill(d.keeper(), syscall.SIGKILL) }, offInFact},
		"its keeper stopped":    {func(d *daemon) { _ = syscall.Kill(d.keeper(), syscall.SIGSTOP) }, offInFact + time.Second},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p := p.in(t)
			p.files(bigRig, bigProfile, 20)
			d := p.daemon()
			d.heat(25)
			c.blow(d)
			took := d.until(offWithin, "it still heats", func() bool { return !d.on() })
			t.Logf("%-24s relay off after %4d ms", name, took.Milliseconds())
			if took > c.within {
				t.Errorf("off after %v, want %v", took, c.within)
			}
		})
	}
}

// A daemon that was stopped goes on with what it had decided before. That is
// too old: nothing is switched on by it.
func TestScenarioADaemonThatGoesOnDoesNotHeatByOldDecisions(t *testing.T) {
	t.Parallel()
	p := build(t)
	p.files(bigRig, bigProfile, 20)
	d := p.daemon()
	d.heat(25)
	d.signal(syscall.SIGSTOP)
	d.until(offWithin, "it still heats", func() bool { return !d.on() })
	pause := 2 * time.Second
	if *night {
		pause = time.Minute
	}
	d.stays(pause, "while it was stopped")
	d.signal(syscall.SIGCONT)
	// A late tick cuts heat until all has been well for 10 s.
	d.stays(8*time.Second, "when it went on")
	d.until(10*time.Second, "it does not heat again", d.on)
}

// Keeper and daemon gone at once: nobody is left to switch off, and the relay
// stays as it was. That is what element-off is for.
func TestScenarioElementOffEndsWhatNobodyElseCan(t *testing.T) {
	t.Parallel()
	p := build(t)
	p.files(bigRig, bigProfile, 20)
	d := p.daemon()
	d.heat(25)

	// While a daemon heats, off is written, and that it may not last is said.
	if a := p.must(69, "element-off", "sysfs", d.relay); !strings.Contains(a.err, "another process holds it") {
		t.Errorf("beside a daemon it says %q", a.err)
	}
	if a := p.must(69, "element-off", "--state", "state"); !strings.Contains(a.err, "another process holds it") {
		t.Errorf("beside a daemon, by its state, it says %q", a.err)
	}
	d.until(5*time.Second, "the daemon does not heat on", d.on)

	keeper := d.keeper()
	d.signal(syscall.SIGSTOP) // so that it cannot start another one
	if err := syscall.Kill(keeper, syscall.SIGKILL); err != nil {
		t.Fatal(err)
	}
	d.signal(syscall.SIGKILL)
	_ = d.cmd.Wait()
	if !d.on() {
		t.Fatal("the relay went off by itself: this test shows nothing")
	}
	began := time.Now()
	if a := p.must(0, "element-off", "--state", "state"); a.out != "off: sysfs "+d.relay+"\n" {
		t.Errorf("it says %q", a.out)
	}
	t.Logf("element-off took %d ms", time.Since(began).Milliseconds())
	if d.on() {
		t.Error("the relay is still on")
	}
}

// TestScenarioElementOffEndsWhatAGroupKillLeaves: a service manager that kills all of a
// control group, and the kernel that runs out of memory in it, kill daemon and keeper in
// one moment, neither of them stopped before. Nothing of ours is left to end the heat,
// so that the relay stays on until the manager runs element-off.
func TestScenarioElementOffEndsWhatAGroupKillLeaves(t *testing.T) {
	t.Parallel()
	p := build(t)
	p.files(bigRig, bigProfile, 20)
	var d *daemon
	var killed time.Duration
	for tries := 1; ; tries++ {
		d = p.daemon()
		d.heat(25)
		if killed = d.groupKill(); d.staysOn(4 * time.Second) { // longer than any lease
			break
		}
		if tries == 10 {
			t.Fatal("each time one of the two was quicker than the other's signal and put the relay off: this test shows nothing")
		}
	}
	began := time.Now()
	off := make(chan time.Duration, 1)
	go func() { off <- d.until(offWithin, "it still heats", func() bool { return !d.on() }) }()
	p.must(0, "element-off", "--state", "state")
	said, took := time.Since(began), <-off
	t.Logf("both killed within %d µs, on for 4 s; element-off: relay off after %d ms, said after %d ms", killed.Microseconds(), took.Milliseconds(), said.Milliseconds())
	if took > atOnce {
		t.Errorf("the relay is off %v after element-off began; want %v", took, atOnce)
	}
	if d := p.daemon(); d.on() {
		t.Error("the next start heats")
	}
}

// groupKill kills daemon and keeper as nearly at once as two calls can, and tells how
// far apart they came back.
func (d *daemon) groupKill() time.Duration {
	d.t.Helper()
	keeper, began := d.keeper(), time.Now()
	first, second := syscall.Kill(keeper, syscall.SIGKILL), syscall.Kill(d.cmd.Process.Pid, syscall.SIGKILL)
	apart := time.Since(began)
	if err := errors.Join(first, second); err != nil {
		d.t.Fatal(err)
	}
	_ = d.cmd.Wait()
	return apart
}

// staysOn tells whether the relay is on all that time.
func (d *daemon) staysOn(long time.Duration) bool {
	for began := time.Now(); time.Since(began) < long; <-time.After(50 * time.Millisecond) {
		if !d.on() {
			return false
		}
	}
	return true
}

// A contactor is open at a start, closes before the element is on, and opens after
// it, however the daemon goes; element-off opens it where both are gone.
func TestScenarioTheContactorGoesWithTheElement(t *testing.T) {
	t.Parallel()
	p := build(t)
	for name, c := range map[string]struct {
		blow   func(d *daemon)
		within time.Duration
	}{
		"killed":               {func(d *daemon) { d.signal(syscall.SIGKILL) }, atOnce},
		"stopped":              {func(d *daemon) { d.signal(syscall.SIGSTOP) }, offInFact},
		"ended by its manager": {func(d *daemon) { d.signal(syscall.SIGTERM) }, atOnce},
		"STOP is pressed":      {func(d *daemon) { go d.stop() }, atOnce},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p := p.in(t)
			p.files(bigRig+"contactor: {relay: {driver: sysfs, line: %[1]s/contactor}}\n", bigProfile, 20)
			p.write("contactor", "1\n") // as a board may leave it
			contactor := &daemon{t: t, p: p, relay: filepath.Join(p.folder, "contactor")}
			d := p.daemon()
			if contactor.on() {
				t.Error("the contactor is closed in an idle daemon")
			}
			began := make(chan time.Time, 1)
			go func() {
				defer close(began)
				contactor.until(20*time.Second, "the contactor does not close", contactor.on)
				began <- time.Now()
			}()
			d.heat(25)
			if lead := time.Since(<-began); lead < 500*time.Millisecond {
				t.Errorf("the element is on %v after the contactor has closed", lead)
			}
			c.blow(d)
			took := d.until(offWithin, "it still heats", func() bool { return !d.on() })
			after := contactor.until(2*time.Second, "the contactor stays closed", func() bool { return !contactor.on() })
			t.Logf("%-24s relay off after %4d ms, contactor open %3d ms later", name, took.Milliseconds(), after.Milliseconds())
			if took > c.within || after < 30*time.Millisecond || after > atOnce {
				t.Errorf("relay off after %v, want %v; contactor %v later, want a tenth of a second", took, c.within, after)
			}
			p.write("contactor", "1\n") // as if nobody had been there
			_ = d.cmd.Process.Kill()
			_ = d.cmd.Wait()
			p.must(0, "element-off", "--state", "state")
			if contactor.on() {
				t.Error("element-off leaves the contactor closed")
			}
		})
	}
}

func TestScenarioExitCodesOfElementOff(t *testing.T) {
	t.Parallel()
	p := build(t)
	p.files(bigRig, bigProfile, 20)
	if err := os.Mkdir(filepath.Join(p.folder, "none"), 0o755); err != nil {
		t.Fatal(err)
	}
	p.write("none/lines", "")
	if err := os.Mkdir(filepath.Join(p.folder, "two"), 0o755); err != nil {
		t.Fatal(err)
	}
	relay := filepath.Join(p.folder, "relay")
	p.write("two/lines", "morse /dev/key\nsysfs "+relay+"\n")
	for _, c := range []struct {
		code int
		says string
		args []string
	}{
		{0, "", []string{"sysfs", relay}},
		{64, "which line?", nil},
		{64, "which line?", []string{"sysfs"}},
		{64, "which line?", []string{"sysfs", relay, "--state", "state"}},
		{66, "lines", []string{"--state", "nowhere"}},
		{69, "names no line", []string{"--state", "none"}},
		{69, "no such file", []string{"sysfs", relay + "-not-there"}},
		{69, `no relay driver "morse"`, []string{"morse", "key"}},
		{69, `no relay driver "morse"`, []string{"--state", "two"}},
		{74, "no space", []string{"sysfs", "/dev/full"}},
	} {
		p.write("relay", "1\n")
		a := p.must(c.code, append([]string{"element-off"}, c.args...)...)
		if !strings.Contains(a.err, c.says) {
			t.Errorf("element-off %q says %q, want %q", c.args, a.err, c.says)
		}
	}
	if text, err := os.ReadFile(relay); err != nil || string(text) != "1\n" {
		t.Errorf("the relay shows %q, %v: a line was switched that nobody named", text, err)
	}
	p.run("element-off", "--state", "two")
	if text, err := os.ReadFile(relay); err != nil || string(text) != "0\n" {
		t.Errorf("the relay shows %q, %v: a bad line before it kept it on", text, err)
	}
}

func TestScenarioTwoDaemonsNeverHoldOneLine(t *testing.T) {
	t.Parallel()
	p := build(t)
	p.files(bigRig, bigProfile, 20)
	d := p.daemon()
	d.heat(25)
	p.write("other.yaml", strings.Replace(fmt.Sprintf(bigRig, p.folder), "/relay", "/other", 1))
	p.write("other", "0\n")
	a := p.must(69, "serve", "--rig", "rig.yaml", "--listen", "127.0.0.1:0")
	if !strings.Contains(a.err, "another process holds it") || !strings.Contains(a.err, d.relay) {
		t.Errorf("the second is told %q", a.err)
	}
	// Nor two of one state: they would go on with one batch. Who is refused counts
	// for no crash loop either.
	for _, args := range [][]string{{"--rig", "rig.yaml"}, {"--rig", "rig.yaml", "--simulate"}, {"--rig", "other.yaml"}, {"--rig", "rig.yaml"}, {"--rig", "rig.yaml"}} {
		a := p.must(69, append([]string{"serve", "--state", "state", "--listen", "127.0.0.1:0"}, args...)...)
		if !strings.Contains(a.err, "another mashward runs with the folder state") {
			t.Errorf("%q: it is told %q", args, a.err)
		}
	}
	if text, err := os.ReadFile(filepath.Join(p.folder, "state", "starts")); err != nil || string(text) != "1\n" {
		t.Errorf("starts counted: %q, %v", text, err)
	}
	if !d.on() {
		t.Error("the second took heat from the first")
	}
	d.signal(syscall.SIGTERM)
	if err := d.ends(); err != nil {
		t.Errorf("it ends with %v\n%s", err, d.text())
	}
	p.daemon() // and now another one may
}

// A daemon that may have few descriptors lets few visitors in: it goes on
// controlling, a keeper that dies is replaced, and heat ends with the daemon.
func TestScenarioVisitorsDoNotTakeTheDescriptorsThatControlNeeds(t *testing.T) {
	t.Parallel()
	p := build(t)
	p.files(bigRig, bigProfile, 20)
	d := p.daemon("sh", "-c", `ulimit -n 64; exec "$0" "$@"`)
	d.heat(25)
	visitors(t, d.address, 90)
	for range 5 {
		<-time.After(time.Second)
		if !d.on() {
			t.Fatalf("the relay is off\n%s", d.text())
		}
	}
	visitors(t, d.address, 60) // the first ones have been sent away for saying nothing
	if err := syscall.Kill(d.keeper(), syscall.SIGKILL); err != nil {
		t.Fatal(err)
	}
	took := d.until(offWithin, "it still heats without its keeper", func() bool { return !d.on() })
	t.Logf("its keeper killed beside 60 visitors: relay off after %d ms", took.Milliseconds())
	if took > atOnce {
		t.Errorf("off after %v, want %v", took, atOnce)
	}
	d.until(10*time.Second, "it does not heat again", d.on)
	if text := d.text(); strings.Contains(text, "too many open files") {
		t.Errorf("descriptors ran out:\n%s", text)
	}
	d.signal(syscall.SIGKILL)
	took = d.until(offWithin, "it still heats", func() bool { return !d.on() })
	t.Logf("killed beside visitors: relay off after %d ms", took.Milliseconds())
	if took > atOnce {
		t.Errorf("off after %v, want %v", took, atOnce)
	}
}
