package sysfs

import (
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"mashward/controller/unit"
	"mashward/deploy/yardstick"
	"mashward/sensors"
)

func TestEveryTextIsATemperatureOrAFault(t *testing.T) {
	for text, c := range map[string]struct {
		want  unit.Celsius
		fault sensors.Fault
	}{
		"21500\n":            {21.5, sensors.None},
		"66687":              {66.687, sensors.None},
		"0\n":                {0, sensors.None},
		"-500\n":             {-0.5, sensors.None},
		"-55000\n":           {-55, sensors.None},
		"100062\n":           {100.062, sensors.None},
		"23437.500000000\n":  {23.437, sensors.None}, // as an IIO driver prints it
		"200000\n":           {200, sensors.None},
		"200001\n":           {0, sensors.Range},
		"-55001\n":           {0, sensors.Range},
		"4095900\n":          {0, sensors.Range},
		"-127000\n":          {0, sensors.Range},
		"":                   {0, sensors.Open},
		"\n":                 {0, sensors.Bus},
		" 21500\n":           {0, sensors.Bus},
		"21500\n\n":          {0, sensors.Bus},
		"21500 \n":           {0, sensors.Bus},
		"+21500\n":           {0, sensors.Bus},
		"21,5\n":             {0, sensors.Bus},
		"0x5000\n":           {0, sensors.Bus},
		"1e5\n":              {0, sensors.Bus},
		"nan\n":              {0, sensors.Bus},
		"21500\x00":          {0, sensors.Bus},
		"21500\n99999\n":     {0, sensors.Bus},
		"t=21500\n":          {0, sensors.Bus},
		"12345678\n":         {0, sensors.Bus},
		"-\n":                {0, sensors.Bus},
		".5\n":               {0, sensors.Bus},
		"٢١٥٠٠\n":            {0, sensors.Bus}, // digits, but not ours
		"21500 milli degree": {0, sensors.Bus},
	} {
		if got, fault := Parse([]byte(text)); got != c.want || fault != c.fault {
			t.Errorf("%q: %v °C, %v; want %v °C, %v", text, got, fault, c.want, c.fault)
		}
	}
}

// tree is a tree of files with one thermometer in it, and that thermometer.
func tree(t *testing.T, text string) (path string, s *Source) {
	t.Helper()
	const name = "/sys/bus/iio/devices/iio:device0/in_temp_input"
	root := t.TempDir()
	path = filepath.Join(root, name)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	s, err := New(root, name)
	if err != nil {
		t.Fatal(err)
	}
	return path, s
}

func TestFileIsReadAnewEachTime(t *testing.T) {
	path, s := tree(t, "20000\n")
	for _, step := range []struct {
		text  string
		want  unit.Celsius
		fault sensors.Fault
	}{
		{"20000\n", 20, sensors.None},
		{"20062\n", 20.062, sensors.None},
		{"", 0, sensors.Open},
		{strings.Repeat("2", 1<<20), 0, sensors.Bus},
		{"20125\n", 20.125, sensors.None},
	} {
		if err := os.WriteFile(path, []byte(step.text), 0o644); err != nil {
			t.Fatal(err)
		}
		if got, fault := s.Read(); got != step.want || fault != step.fault {
			t.Errorf("%.20q: %v °C, %v; want %v °C, %v", step.text, got, fault, step.want, step.fault)
		}
	}
}

func TestProbeThatIsUnpluggedComesBack(t *testing.T) {
	path, s := tree(t, "20000\n")
	if err := os.Rename(path, path+".away"); err != nil {
		t.Fatal(err)
	}
	if _, fault := s.Read(); fault != sensors.Open {
		t.Errorf("without its file: %v, want %v", fault, sensors.Open)
	}
	if err := os.Rename(path+".away", path); err != nil {
		t.Fatal(err)
	}
	if got, fault := s.Read(); got != 20 || fault != sensors.None {
		t.Errorf("with it again: %v °C, %v", got, fault)
	}
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(path, 0o755); err != nil {
		t.Fatal(err)
	}
	if _, fault := s.Read(); fault != sensors.Bus {
		t.Errorf("a folder in its place: %v, want %v", fault, sensors.Bus)
	}
}

// Those who write such files for others put a new one in place of the old.
func TestFileThatTakesThePlaceOfAnotherIsRead(t *testing.T) {
	path, s := tree(t, "20000\n")
	for n := range 5 {
		if got, fault := s.Read(); got != unit.Celsius(20+n) || fault != sensors.None {
			t.Errorf("file %d: %v °C, %v", n, got, fault)
		}
		if err := os.WriteFile(path+".new", fmt.Appendf(nil, "%d\n", 21000+1000*n), 0o644); err != nil {
			t.Fatal(err)
		}
		if err := os.Rename(path+".new", path); err != nil {
			t.Fatal(err)
		}
	}
	before, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		yardstick.Missing(t, "descriptors cannot be counted here: "+err.Error())
	}
	for range 100 {
		s.Read()
	}
	if after, err := os.ReadDir("/proc/self/fd"); err != nil || len(after) > len(before) {
		t.Errorf("%d descriptors before, %d after, %v", len(before), len(after), err)
	}
}

func TestPathMustBeWhole(t *testing.T) {
	for _, path := range []string{"", "in_temp_input", "./x", "28-0000075a1c3f"} {
		if _, err := New("/", path); err == nil || !strings.Contains(err.Error(), "write one such as /sys/") {
			t.Errorf("%q: %v", path, err)
		}
	}
}

// FuzzParse: a value is never out of what a probe can say, and never comes out
// of a text that is no number.
func FuzzParse(f *testing.F) {
	for _, text := range []string{"21500\n", "-500", "", "85000\n", "23437.5\n", "t=1"} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		got, fault := Parse(text)
		switch {
		case fault != sensors.None && got != 0:
			t.Errorf("%q: %v with a value, %v", text, fault, got)
		case fault == sensors.None && (got < -55 || got > 200 || strings.Trim(string(text), "-.0123456789\n") != ""):
			t.Errorf("%q: %v °C is believed", text, got)
		}
	})
}

// A real file of the kernel's, which counts the packets of the machine's own
// network: kept open, it is filled anew for each read.
func TestKernelFillsItsFileAnewForEachRead(t *testing.T) {
	f := File{Path: "/sys/class/net/lo/statistics/tx_packets"}
	before, err := f.Read()
	if err != nil {
		yardstick.Missing(t, "no such file here: "+err.Error())
	}
	opened := f.open
	conn, err := net.Dial("udp", "127.0.0.1:9")
	if err != nil {
		yardstick.Missing(t, "no network of its own: "+err.Error())
	}
	defer conn.Close()
	if _, err := conn.Write([]byte("x")); err != nil {
		t.Fatal(err)
	}
	after, err := f.Read()
	if err != nil || string(after) == string(before) || f.open != opened {
		t.Errorf("%q before and %q after a packet, %v; opened once: %v", before, after, err, f.open == opened)
	}
}
