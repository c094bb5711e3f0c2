//go:build unix

package w1

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/deploy/yardstick"
	"mashward/sensors"
	"mashward/sensors/ds18b20"
	"mashward/sensors/sampler"
)

const id = "28-0000075a1c3f"

// text is what the kernel prints for an answer: t is its own temperature.
func text(pad, crc, verdict, last, t string) string {
	return fmt.Sprintf("%s : crc=%s %s\n%s t=%s\n", pad, crc, verdict, last, t)
}

// good is the text of an answer with a right checksum.
func good(eight, t string) string {
	var pad [8]byte
	for i, digits := range strings.Fields(eight) {
		fmt.Sscanf(digits, "%02x", &pad[i])
	}
	crc := fmt.Sprintf("%02x", ds18b20.Checksum(pad[:]))
	whole := strings.ToLower(eight) + " " + crc
	return text(whole, crc, "YES", whole, t)
}

// The table of the datasheet, as the kernel prints it: it cuts what is below a
// thousandth off towards zero.
func TestEveryCodeOfTheDatasheet(t *testing.T) {
	for _, c := range []struct {
		eight, kernel string
		want          unit.Celsius
		fault         sensors.Fault
	}{
		{"D0 07 4B 46 7F FF 0C 10", "125000", 125, sensors.None},
		{"50 05 4B 46 7F FF 10 10", "85000", 85, sensors.None},
		{"91 01 4B 46 7F FF 0C 10", "25062", 25.0625, sensors.None},
		{"A2 00 4B 46 7F FF 0C 10", "10125", 10.125, sensors.None},
		{"08 00 4B 46 7F FF 0C 10", "500", 0.5, sensors.None},
		{"00 00 4B 46 7F FF 0C 10", "0", 0, sensors.None},
		{"F8 FF 4B 46 7F FF 0C 10", "-500", -0.5, sensors.None},
		{"5E FF 4B 46 7F FF 0C 10", "-10125", -10.125, sensors.None},
		{"6F FE 4B 46 7F FF 0C 10", "-25062", -25.0625, sensors.None},
		{"90 FC 4B 46 7F FF 0C 10", "-55000", -55, sensors.None},
		{"2B 04 4B 46 7F FF 0C 10", "66687", 66.6875, sensors.None},
		{"9F 01 4B 46 1F FF 0C 10", "25937", 25.5, sensors.None}, // 9 bits: the kernel prints the undefined ones
		{"50 05 4B 46 7F FF 0C 10", "85000", 0, sensors.PowerOn},
		{"50 05 FF FF F0 FF FF FF", "85000", 0, sensors.PowerOn},
		{"FF 07 4B 46 7F FF 0C 10", "127937", 0, sensors.PowerOn},
		{"00 00 00 00 00 00 00 00", "0", 0, sensors.Shorted},
		{"FF 07 4B 46 7F FF 01 10", "127937", 0, sensors.Range},
	} {
		if got, fault := Parse([]byte(good(c.eight, c.kernel))); got != c.want || fault != c.fault {
			t.Errorf("%s: %v °C, %v; want %v °C, %v", c.eight, got, fault, c.want, c.fault)
		}
	}
}

func TestWhatIsNotBeyondDoubtIsAFault(t *testing.T) {
	const at65, at20 = "10 04 4b 46 7f ff 0c 10 68", "40 01 4b 46 7f ff 0c 10 ec"
	sound := text(at65, "68", "YES", at65, "65000")
	if got, fault := Parse([]byte(sound)); got != 65 || fault != sensors.None {
		t.Fatalf("the sound one: %v °C, %v", got, fault)
	}
	for name, c := range map[string]struct {
		text string
		want sensors.Fault
	}{
		// After a failed checksum the driver prints the temperature before it.
		"NO, with an older temperature":          {text("10 04 4b 46 7f ff 0c 11 68", "70", "NO", at65, "65000"), sensors.Checksum},
		"NO, with the same":                      {text(at65, "68", "NO", at65, "65000"), sensors.Checksum},
		"NO, wire open":                          {text("ff ff ff ff ff ff ff ff ff", "c9", "NO", at65, "65000"), sensors.Checksum},
		"YES, but the bytes say no":              {text("10 04 4b 46 7f ff 0c 11 68", "68", "YES", "10 04 4b 46 7f ff 0c 11 68", "65000"), sensors.Checksum},
		"YES, another checksum printed":          {text(at65, "69", "YES", at65, "65000"), sensors.Checksum},
		"an older second line":                   {text(at65, "68", "YES", at20, "20000"), sensors.Bus},
		"an older second line, its number right": {text(at65, "68", "YES", at20, "65000"), sensors.Bus},
		"another temperature":                    {text(at65, "68", "YES", at65, "66000"), sensors.Bus},
		"another temperature, near":              {text(at65, "68", "YES", at65, "64990"), sensors.Bus},
		"all zero":                               {text("00 00 00 00 00 00 00 00 00", "00", "YES", "00 00 00 00 00 00 00 00 00", "0"), sensors.Shorted},
		"empty":                                  {"", sensors.Open},
		"one line":                               {at65 + " : crc=68 YES\n", sensors.Bus},
		"cut off":                                {sound[:len(sound)-4], sensors.Bus},
		"cut off in the number":                  {strings.TrimSuffix(sound, "0\n"), sensors.Bus},
		"no number":                              {text(at65, "68", "YES", at65, ""), sensors.Bus},
		"a third line":                           {sound + "\n", sensors.Bus},
		"twice":                                  {sound + sound, sensors.Bus},
		"eight bytes":                            {text(at65[:23], "10", "YES", at65[:23], "65000"), sensors.Bus},
		"capitals":                               {strings.ToUpper(sound), sensors.Bus},
		"yes":                                    {strings.Replace(sound, "YES", "yes", 1), sensors.Bus},
		"not hexadecimal":                        {strings.Replace(sound, "4b", "4g", 2), sensors.Bus},
		"a NUL":                                  {sound + "\x00", sensors.Bus},
		"a number without end":                   {text(at65, "68", "YES", at65, "65000000000000000000000"), sensors.Bus},
		"millidegrees alone":                     {"65000\n", sensors.Bus},
	} {
		if got, fault := Parse([]byte(c.text)); got != 0 || fault != c.want {
			t.Errorf("%s: %v °C, %v; want %v", name, got, fault, c.want)
		}
	}
}

// device is a tree of files with one thermometer on the bus.
func device(t *testing.T) (path string, s *Source) {
	t.Helper()
	root := t.TempDir()
	folder := filepath.Join(root, "sys/bus/w1/devices", id)
	if err := os.MkdirAll(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	s, err := New(root, id)
	if err != nil {
		t.Fatal(err)
	}
	return filepath.Join(folder, "w1_slave"), s
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func TestProbeIsPulledAndPluggedInAgain(t *testing.T) {
	path, s := device(t)
	expect := func(when string, want unit.Celsius, fault sensors.Fault) {
		t.Helper()
		if got, f := s.Read(); got != want || f != fault {
			t.Errorf("%s: %v °C, %v; want %v °C, %v", when, got, f, want, fault)
		}
	}
	expect("before it was there", 0, sensors.Open)
	write(t, path, good("10 04 4B 46 7F FF 0C 10", "65000"))
	expect("there", 65, sensors.None)
	write(t, path, "")
	expect("pulled", 0, sensors.Open)
	if err := os.RemoveAll(filepath.Dir(path)); err != nil {
		t.Fatal(err)
	}
	expect("given up by the kernel", 0, sensors.Open)
	if err := os.Mkdir(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	write(t, path, strings.Repeat("10 ", 1<<20))
	expect("a file without end", 0, sensors.Bus)
	write(t, path, good("40 06 4B 46 7F FF 0C 10", "100000"))
	expect("plugged in again", 100, sensors.None)
}

// A pipe that nobody writes into is a read that hangs, to the kernel and to us:
// the newest reading stays, dated as it was, and nothing waits for it.
func TestReadThatHangsLeavesTheOldReadingToAge(t *testing.T) {
	path, s := device(t)
	write(t, path, good("10 04 4B 46 7F FF 0C 10", "65000"))
	began := time.Now()
	p := sampler.Start(s, func() time.Duration { return time.Since(began) }, time.Millisecond)
	defer p.Stop()
	until(t, "there is no reading", func() bool { return p.Latest().Good() })
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mkfifo(path, 0o644); err != nil {
		yardstick.Missing(t, "no pipe can be made here: "+err.Error())
	}
	// Once the pipe is open for reading, the read hangs in it.
	until(t, "the pipe is not read", func() bool {
		f, err := os.OpenFile(path, os.O_WRONLY|syscall.O_NONBLOCK, 0)
		if err == nil {
			t.Cleanup(func() { f.Close() })
		}
		return err == nil
	})
	first := p.Latest()
	time.AfterFunc(50*time.Millisecond, p.Stop)
	until(t, "time does not pass", func() bool { return time.Since(began) > first.Taken+200*time.Millisecond })
	if r := p.Latest(); r != first {
		t.Errorf("while it hangs the reading changed from %+v to %+v", first, r)
	}
}

// until waits for what another goroutine does, 10 s at most.
func until(t *testing.T, complaint string, done func() bool) {
	t.Helper()
	tick := time.NewTicker(time.Millisecond)
	defer tick.Stop()
	for late := time.After(10 * time.Second); !done(); {
		select {
		case <-tick.C:
		case <-late:
			t.Fatal(complaint + " after 10 s")
		}
	}
}

func TestAddressMustBeOfThisChip(t *testing.T) {
	for _, no := range []string{"", "28-0000075A1C3F", "10-000802b4b7d6", "28-0000075a1c3f/../x", "0000075a1c3f", "28-0000075a1c3"} {
		if _, err := New("/", no); err == nil {
			t.Errorf("%q is taken", no)
		}
	}
}

// FuzzParse: a value comes only out of nine bytes that say YES, carry a right
// checksum, are not all zero, and are within what the chip can measure.
func FuzzParse(f *testing.F) {
	f.Add([]byte(good("10 04 4B 46 7F FF 0C 10", "65000")))
	f.Add([]byte(good("50 05 4B 46 7F FF 0C 10", "85000")))
	f.Add([]byte(good("00 00 00 00 00 00 00 00", "0")))
	f.Add([]byte(strings.Replace(good("10 04 4B 46 7F FF 0C 10", "65000"), "YES", "NO", 1)))
	f.Add([]byte(""))
	f.Fuzz(func(t *testing.T, text []byte) {
		got, fault := Parse(text)
		if fault != sensors.None {
			if got != 0 {
				t.Errorf("%q: %v with a value, %v", text, fault, got)
			}
			return
		}
		var pad [9]byte
		for i := range pad {
			if n, err := fmt.Sscanf(string(text[3*i:3*i+2]), "%02x", &pad[i]); n != 1 || err != nil {
				t.Fatalf("%q: %v", text, err)
			}
		}
		again, fault := ds18b20.Decode(pad[:])
		if fault != sensors.None || again != got || !strings.Contains(string(text), " YES\n") {
			t.Errorf("%q: %v °C is believed", text, got)
		}
	})
}
