package main

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"strings"
	"testing"

	"mashward/cmd/internal/config"
	"mashward/profile/strict"
)

func TestEveryCommandTellsItsOptionsAndRefusesOthers(t *testing.T) {
	for _, c := range commands() {
		for _, ask := range []string{"--help", "-h"} {
			a := mashward(c.name, ask)
			if a.code != 0 || a.err != "" || !strings.HasPrefix(a.out, "Usage: mashward "+c.name+" ") {
				t.Errorf("%s %s: exit code %d, messages %q\n%s", c.name, ask, a.code, a.err, a.out)
			}
		}
		a := mashward(c.name, "--no-such-option")
		if a.code != exitUsage || !strings.Contains(a.err, "no-such-option") || !strings.Contains(a.err, "`mashward "+c.name+" --help` lists the options") {
			t.Errorf("%s --no-such-option: exit code %d, output %q, messages %q", c.name, a.code, a.out, a.err)
		}
		if help := mashward("help").out; !strings.Contains(help, "  "+c.name) || !strings.Contains(help, c.line) {
			t.Errorf("help does not list %s", c.name)
		}
	}
}

// ending is one call of the program and how it must end.
type ending struct {
	code int
	says string // part of the messages; of the output where the code is 0 or 1
	args []string
}

func (e ending) check(t *testing.T) {
	t.Helper()
	a := mashward(e.args...)
	text := a.err
	if e.code <= exitShort {
		text = a.out
	}
	if a.code != e.code || !strings.Contains(text, e.says) {
		t.Errorf("mashward %s\nexit code %d, want %d; %q is not said\n%.2000s\n%.2000s", strings.Join(e.args, " "), a.code, e.code, e.says, a.out, a.err)
	}
	if e.code >= exitUsage && e.args != nil && a.err == "" {
		t.Errorf("mashward %s: nothing is said", strings.Join(e.args, " "))
	}
	if e.code == exitUsage && e.args != nil && a.out != "" {
		t.Errorf("mashward %s: a wrong call, and it goes on to say\n%.300s", strings.Join(e.args, " "), a.out)
	}
}

func TestExitCodesOfThePlainCalls(t *testing.T) {
	for _, e := range []ending{
		{64, "", nil},
		{0, "Usage: mashward COMMAND", []string{"help"}},
		{0, "Usage: mashward COMMAND", []string{"--help"}},
		{0, "Usage: mashward COMMAND", []string{"-h"}},
		{0, "mashward ", []string{"version"}},
		{0, "mashward ", []string{"--version"}},
		{64, `there is no command "brew"; ` + "`mashward help` lists them", []string{"brew"}},
		{64, `there is no command "--rig"`, []string{"--rig", yard}},
		{64, `there is no command ""`, []string{""}},
	} {
		e.check(t)
	}
	if a := mashward(); !strings.Contains(a.out, "Usage: mashward COMMAND") {
		t.Errorf("without a word: %q", a.out)
	}
}

func TestExitCodesOfPlan(t *testing.T) {
	for _, e := range []ending{
		{0, "Mash-out at 77.0 °C", []string{"plan", "--rig", yard, brew}},
		{0, "Mash-out at 77.0 °C", []string{"plan", brew, "--rig", yard}},
		{0, `"finish_seconds"`, []string{"plan", "--rig", yard, "--format", "json", brew}},
		{0, "water: 26.8 L", []string{"plan", "--rig", yard, "--wanted", "19 L", "--gravity", "1.050", brew}},
		{0, "water: 26.8 L", []string{"plan", "--rig", yard, "--wanted", "19L", "--gravity", "12.4P", brew}},
		{0, "grain: {mass: 5 kg,", []string{"plan", "--rig", yard, "--grain", "5 kg", brew}},
		{0, `"profile_text"`, []string{"plan", "--rig", yard, "--wanted", "19L", "--format", "json", brew}},
		{0, "BY HAND, IF THE COMPUTER DIES", []string{"plan", "--rig", yard, "--sheet", brew}},
		{0, "     6   23:18   23:38   00:53  Boil", []string{"plan", "--rig", yard, "--sheet", "--start", "21:00", brew}},
		{0, "[ ] 5 kg of grain", []string{"plan", "--rig", yard, "--sheet", "--grain", "5kg", brew}},
		{64, "write hours and minutes, as 09:30", []string{"plan", "--rig", yard, "--sheet", "--start", "9.30", brew}},
		{64, "write hours and minutes", []string{"plan", "--rig", yard, "--sheet", "--start", "24:00", brew}},
		{0, "Strike water by 08:30\nBegin to heat at 0", []string{"plan", "--rig", yard, "--ready", "08:30", brew}},
		{64, "as 08:30", []string{"plan", "--rig", yard, "--ready", "half past", brew}},
		{64, "has no mash-in", []string{"plan", "--rig", yard, "--ready", "08:30", samples + "profiles/water-only.yaml"}},
		{64, "leave --sheet", []string{"plan", "--rig", yard, "--ready", "08:30", "--sheet", brew}},
		{0, "20 L at 65 °C for 2 h", []string{"water", "--litres", "20L", "--to", "65C", "--hold", "2h"}},
		{0, "use: cleaning", []string{"water", "--litres", "20L", "--to", "65C", "--cleaning"}},
		{0, "use: water-brew", []string{"water", "--brew", brew}},
		{64, "Add --litres 20L --to 65C", []string{"water"}},
		{64, "Add --brew", []string{"water", brew}},
		{64, "leave the other options out", []string{"water", "--brew", "--to", "65C", brew}},
		{64, "--hold", []string{"water", "--litres", "20L", "--to", "65C", "--hold", "long"}},
		{64, "4 h at most", []string{"water", "--litres", "20L", "--to", "65C", "--hold", "5h"}},
		{64, "that it is made from", []string{"water", "--brew", "--out", brew, brew}},
		{65, "outside 1 L to 200 L", []string{"water", "--litres", "300L", "--to", "65C"}},
		{0, "   0:21  08:52 pour the grain; then free until 10:48", []string{"plan", "--rig", yard, "--start", "08:30", brew}},
		{0, "The day ends after midnight.", []string{"plan", "--rig", yard, "--start", "21:30", brew}},
		{64, "leave --format out", []string{"plan", "--rig", yard, "--start", "09:30", "--format", "json", brew}},
		{64, "add --sheet", []string{"plan", "--rig", yard, "--start", "09:30", "--wanted", "19L", brew}},
		{64, "leave --format out", []string{"plan", "--rig", yard, "--sheet", "--format", "json", brew}},
		{65, "the kettle holds 20.0 L", []string{"plan", "--rig", pot, "--sheet", brew}},
		{64, "19 what? write 19 L", []string{"plan", "--rig", yard, "--wanted", "19", brew}},
		{64, "write 1.050", []string{"plan", "--rig", yard, "--gravity", "1050", brew}},
		{64, "what a refractometer shows", []string{"plan", "--rig", yard, "--gravity", "12.9Bx", brew}},
		{64, "nothing is wished for", []string{"plan", "--rig", yard, "--wanted", "0 L", brew}},
		{64, "what is to be scaled?", []string{"plan", "--rig", yard, "--out", "x.yaml", brew}},
		{65, "grain follows from volume and gravity", []string{"plan", "--rig", yard, "--wanted", "19L", "--grain", "5kg", brew}},
		{65, "On this kettle 13.5 L to ", []string{"plan", "--rig", yard, "--wanted", "60L", brew}},
		{65, "has no grain", []string{"plan", "--rig", yard, "--wanted", "19L", samples + "profiles/water-only.yaml"}},
		{64, "which profile? Name its file", []string{"plan", "--rig", yard}},
		{64, "one profile at a time", []string{"plan", "--rig", yard, brew, brew}},
		{64, "which rig? Add --rig FILE", []string{"plan", brew}},
		{64, "write text or json", []string{"plan", "--rig", yard, "--format", "xml", brew}},
		{64, "--rig needs a file behind it", []string{"plan", brew, "--rig"}},
		{65, "63 what?", []string{"plan", "--rig", yard, bad + "profile-no-unit.yaml"}},
		{65, "the kettle holds 20.0 L", []string{"plan", "--rig", pot, brew}},
		{66, "nowhere.yaml is missing", []string{"plan", "--rig", yard, "nowhere.yaml"}},
		{66, "nowhere.yaml is missing", []string{"plan", "--rig", "nowhere.yaml", brew}},
		{74, "cannot be read", []string{"plan", "--rig", yard, samples}},
		{78, "3000 what?", []string{"plan", "--rig", bad + "rig-no-unit.yaml", brew}},
		{78, "63 what?", []string{"plan", "--rig", bad + "rig-no-unit.yaml", bad + "profile-no-unit.yaml"}},
		{78, "3000 what?", []string{"plan", "--rig", bad + "rig-no-unit.yaml", bad + "profile-no-unit.yaml"}},
		{78, "loosens the limit", []string{"plan", "--rig", bad + "rig-loosened-limit.yaml", brew}},
	} {
		e.check(t)
	}
}

func TestExitCodesOfGravity(t *testing.T) {
	day := func(args ...string) []string {
		return append([]string{"gravity", "--rig", yard, "--profile", brew, "--volume-at", "77 °C"}, args...)
	}
	for _, e := range []ending{
		{0, "1.041 at 30 °C is a gravity of 1.044, 10.9 °P.", []string{"gravity", "--at", "30C", "1.041"}},
		{0, "10.4P at 20 °C is a gravity of 1.042, 10.4 °P.", []string{"gravity", "10.4P"}},
		{0, "11.9Bx at 20 °C is a gravity of 1.046, 11.4 °P.", []string{"gravity", "11.9Bx"}},
		// 23 L at 77 °C (973.65 kg/m³ by IAPWS-IF97) are 22.43 L cold; boiled by 3 L they
		// have 22.43 x 42/19.43 = 48.5 points. At 51.34 they are 18.35 L: 1.08 L less, or
		// 27 min at 2.4 L/h. 20.1 L are 19.61 L, and 19.61 x 56/48 = 22.87 L.
		{0, "For 1.051 boil 27 min longer: 1.1 L more go off, and 18.4 L are left.", day("--volume", "23 L", "1.042")},
		{0, "For 1.048 add 3.3 L of boiled water", day("--volume", "20.1 L", "--after-boil", "--target", "1.048", "1.056")},
		{0, "leave it as it is", day("--volume", "22.9 L", "1.0445")},
		{64, "which reading? Write what the instrument shows", []string{"gravity"}},
		{64, "write 1.041", []string{"gravity", "1041"}},
		{64, "--at: 30 what?", []string{"gravity", "--at", "30", "1.041"}},
		{64, "takes --rig, --profile and --volume", []string{"gravity", "--rig", yard, "1.041"}},
		{64, "takes --rig, --profile and --volume", []string{"gravity", "--volume", "20L", "1.041"}},
		{64, "takes --rig, --profile and --volume", day("1.041")},
		{64, "--volume: 23 what?", day("--volume", "23", "1.041")},
		{64, "--target: ", day("--volume", "23L", "--target", "1050", "1.041")},
		{65, "too hot to correct a hydrometer", []string{"gravity", "--at", "75C", "1.041"}},
		{65, "that boil would leave 12.2 L, and heat ends at 13.0 L", day("--volume", "16 L", "1.040")},
		{65, "makes no wort", []string{"gravity", "--rig", yard, "--profile", samples + "profiles/congress-45-70.yaml", "--volume", "20L", "1.041"}},
	} {
		e.check(t)
	}
}

func TestExitCodesOfDryrun(t *testing.T) {
	lost := file(t, "lost.yaml", "faults:\n  - {at: 40 min, fault: probe-open}\n")
	dry := func(args ...string) []string { return append([]string{"dryrun"}, args...) }
	for _, e := range []ending{
		{0, "simulated", dry("--rig", yard, brew)},
		{0, `"outcome": "complete"`, dry("--rig", yard, "--format", "json", brew)},
		{0, "", dry("--rig", yard, "--plant", samples+"plants/yard-kettle-as-built.yaml", "--person-delay", "1 min", brew)},
		{1, "held", dry("--rig", yard, "--faults", lost, brew)},
		{1, `"outcome": "held"`, dry("--rig", yard, "--faults", lost, "--format", "json", brew)},
		{64, "which profile?", dry("--rig", yard)},
		{64, "which rig?", dry(brew)},
		{64, "one profile at a time", dry("--rig", yard, brew, brew)},
		{64, "--seed x: write a number", dry("--rig", yard, "--seed", "x", brew)},
		{64, "write 5 min", dry("--rig", yard, "--person-delay", "5", brew)},
		{64, "write text or json", dry("--rig", yard, "--format", "xml", brew)},
		{64, "leave out unix:", dry("--rig", yard, "--plant", "unix:nowhere", "--faults", lost, brew)},
		{65, "63 what?", dry("--rig", yard, bad+"profile-no-unit.yaml")},
		{65, "2930 what?", dry("--rig", yard, "--plant", bad+"plant-no-unit.yaml", brew)},
		{65, "42 what?", dry("--rig", yard, "--faults", bad+"faults-no-unit.yaml", brew)},
		{65, "the kettle holds 20.0 L", dry("--rig", pot, brew)},
		{66, "nowhere.yaml is missing", dry("--rig", yard, "nowhere.yaml")},
		{66, "nowhere.yaml is missing", dry("--rig", "nowhere.yaml", brew)},
		{66, "nowhere.yaml is missing", dry("--rig", yard, "--plant", "nowhere.yaml", brew)},
		{66, "nowhere.yaml is missing", dry("--rig", yard, "--faults", "nowhere.yaml", brew)},
		{69, "the plant at nowhere does not answer", dry("--rig", yard, "--plant", "unix:nowhere", brew)},
		{64, "--tariff is for the report", dry("--rig", yard, "--tariff", "0.32 EUR/kWh", brew)},
		{74, "cannot be written", dry("--rig", yard, "--trace", samples, brew)},
		{78, "3000 what?", dry("--rig", bad+"rig-no-unit.yaml", brew)},
	} {
		e.check(t)
	}
}

func TestExitCodesOfRecord(t *testing.T) {
	path := filepath.Join(t.TempDir(), "day.batch")
	ending{0, "", []string{"dryrun", "--rig", yard, "--record", path, brew}}.check(t)
	none := file(t, "none.batch", "this is no record")
	for _, e := range []ending{
		{0, "complete", []string{"record", "list", filepath.Dir(path)}},
		{0, "complete", []string{"record", "list", path}},
		{0, "(simulated)", []string{"record", "show", path}},
		{0, "{", []string{"record", "show", path, "--format", "json"}},
		{0, " for the finish; it was ", []string{"record", "show", path}},
		{0, `"held_ratio"`, []string{"record", "show", path, "--format", "json"}},
		{0, "_celsius", []string{"record", "export", path}},
		{65, "does not say at what time it began", []string{"record", "export", path, "--format", "openmetrics"}},
		{0, "# EOF", []string{"record", "export", path, "--format", "openmetrics", "--start", "2026-01-10T08:00:00Z"}},
		{64, "write csv or openmetrics", []string{"record", "export", path, "--format", "json"}},
		{64, "--start goes with --format openmetrics", []string{"record", "export", path, "--start", "2026-01-10T08:00:00Z"}},
		{64, "--start does not go with list, but with export", []string{"record", "list", path, "--start", "2026-01-10T08:00:00Z"}},
		{0, "rig: Yard kettle", []string{"record", "rig", path}},
		{0, "ticks give the same decisions", []string{"record", "replay", path}},
		{0, "held to what must always hold: 0 breaches", []string{"record", "replay", path}},
		{64, "record: what about it?", []string{"record"}},
		{64, `there is no "burn"`, []string{"record", "burn", path}},
		{64, "which record? Name its file", []string{"record", "show"}},
		{64, "one record at a time", []string{"record", "show", path, path}},
		{64, "write text or json", []string{"record", "--format", "xml", "list"}},
		{64, "--out does not go with show, but with report, bundle", []string{"record", "show", path, "--out", "x"}},
		{64, "--tariff does not go with list", []string{"record", "list", path, "--tariff", "0.32 EUR/kWh"}},
		{64, "is a folder: name a record in it", []string{"record", "show", filepath.Dir(path)}},
		{65, none, []string{"record", "show", none}},
		{65, none, []string{"record", "replay", none}},
		{66, "nowhere.batch", []string{"record", "show", "nowhere.batch"}},
		{66, "nowhere", []string{"record", "list", "nowhere"}},
	} {
		e.check(t)
	}
}

// Errors that no call above can bring about, by their kind.
func TestEveryKindOfErrorHasItsExitCode(t *testing.T) {
	for _, c := range []struct {
		err  error
		code int
		says string
	}{
		{nil, 0, ""},
		{&exit{code: exitShort}, 1, ""},
		{usage("check: %s", "so"), 64, "mashward: check: so\n"},
		{&exit{exitDevice, "no probe"}, 69, "mashward: no probe\n"},
		{fmt.Errorf("at work: %w", &exit{exitBug, "cannot be"}), 70, "mashward: cannot be\n"},
		{&config.Failure{Code: 65, Faults: []strict.Fault{{File: "f", Line: 2, What: "a", Remedy: "b"}, {File: "f", Line: 3, What: "c"}}}, 65, "f:2: a; b\nf:3: c\n"},
		{&config.Failure{Code: 78, Err: errors.New("gone")}, 78, "gone\n"},
		{&fs.PathError{Op: "open", Path: "f", Err: fs.ErrNotExist}, 66, "mashward: open f: file does not exist\n"},
		{&fs.PathError{Op: "open", Path: "f", Err: fs.ErrPermission}, 77, "mashward: open f: permission denied\n"},
		{errors.New("disk full"), 74, "mashward: disk full\n"},
	} {
		var b strings.Builder
		if code := exitCode(c.err, &b); code != c.code || b.String() != c.says {
			t.Errorf("%v: %d %q, want %d %q", c.err, code, b.String(), c.code, c.says)
		}
	}
}
