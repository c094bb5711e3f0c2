package config

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"mashward/cmd/internal/notice"
	"mashward/profile"
	"mashward/profile/strict"
	"mashward/sim"
	"mashward/sim/fault"
)

const (
	testdata = "../../../testdata/"
	bad      = testdata + "bad/"
	expected = bad + "expected.txt"
)

var update = flag.Bool("update", false, "write testdata/bad/expected.txt anew; read the difference before you keep it")

// TestEveryBadFileGetsItsExactMessage reads each file of testdata/bad, which
// holds one mistake, and compares all that is said about it with expected.txt:
// the file's name on a line, and below it, indented, what is said.
func TestEveryBadFileGetsItsExactMessage(t *testing.T) {
	files, err := filepath.Glob(bad + "*.yaml")
	if err != nil || len(files) < 36 {
		t.Fatalf("%d bad files, %v", len(files), err)
	}
	var got bytes.Buffer
	for _, file := range files {
		faults := judge(t, file)
		if len(faults) == 0 {
			t.Errorf("%s: nothing is said", file)
		}
		fmt.Fprintln(&got, filepath.Base(file))
		for _, f := range faults {
			fmt.Fprintf(&got, "    %s\n", f)
			if f.Remedy == "" || f.Line == 0 && !strings.Contains(file, "empty") {
				t.Errorf("%s: %q names no line or no remedy", file, f)
			}
		}
	}
	if *update {
		if err := os.WriteFile(expected, got.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want := contents(t, expected)
	gotLines, wantLines := strings.Split(got.String(), "\n"), strings.Split(string(want), "\n")
	for i := range max(len(gotLines), len(wantLines)) {
		g, w := at(gotLines, i), at(wantLines, i)
		if g != w {
			t.Fatalf("line %d of what is said differs:\ngot  %s\nwant %s", i+1, g, w)
		}
	}
}

func at(lines []string, i int) string {
	if i < len(lines) {
		return lines[i]
	}
	return "(nothing)"
}

func contents(t *testing.T, path string) []byte {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// judge says what is wrong with a file. A profile that is good by itself is
// held against the sample rig, and a rig against the sample brew.
func judge(t *testing.T, file string) []strict.Fault {
	t.Helper()
	name, text := filepath.Base(file), contents(t, file)
	kind, _, _ := strings.Cut(name, "-")
	switch kind {
	case "profile":
		p, faults := profile.Parse(name, text)
		if !strict.Refused(faults) {
			rig, _ := ParseRig("yard-kettle.yaml", contents(t, testdata+"rigs/yard-kettle.yaml"))
			faults = append(faults, refusals(Check(p, rig))...)
		}
		return faults
	case "rig":
		r, faults := ParseRig(name, text)
		if !strict.Refused(faults) {
			p, _ := profile.Parse("rye-four-rests.yaml", contents(t, testdata+"profiles/rye-four-rests.yaml"))
			faults = append(faults, refusals(Check(p, r))...)
		}
		return faults
	case "plant":
		_, faults := sim.ParsePlant(name, text, sim.Defaults())
		return faults
	case "faults":
		_, faults := fault.Parse(name, text)
		return faults
	case "notify":
		_, faults := notice.Parse(name, text)
		return faults
	}
	t.Fatalf("%s: a name begins with profile-, rig-, plant-, faults- or notify-", file)
	return nil
}

// refusals leaves the warnings out, such as the supply's, which the sample rig
// gets with every profile.
func refusals(faults []strict.Fault) []strict.Fault {
	var kept []strict.Fault
	for _, f := range faults {
		if !f.Warning {
			kept = append(kept, f)
		}
	}
	return kept
}
