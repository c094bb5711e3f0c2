package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/schema"
	"mashward/profile/strict"
)

func TestCheckSaysWhatAFileIsLike(t *testing.T) {
	foreign := file(t, "alerts.yaml", "groups: []\n")
	warned := bad + "profile-rest-below-the-one-before.yaml"
	for _, c := range []struct {
		name     string
		args     []string
		code     int
		out, err []string // in this order; nil: nothing at all
	}{
		{"a good profile", []string{brew}, 0, []string{brew + ": good\n"}, nil},
		{
			"files of every kind",
			[]string{brew, yard, samples + "plants/yard-kettle-as-built.yaml", samples + "faults/example.yaml", samples + "notify/brewhouse.yaml"},
			0,
			[]string{"rests.yaml: good", "kettle.yaml: good", "built.yaml: good", "example.yaml: good", "brewhouse.yaml: good"},
			nil,
		},
		{"a profile on its kettle", []string{"--rig", yard, brew}, 0, []string{yard + ": good", brew + ": good"}, []string{brew + ":3: warning: the element draws"}},
		{"a profile on a kettle too small", []string{brew, "--rig", pot}, 65, []string{pot + ": good"}, []string{brew + ":", "the kettle holds 20.0 L"}},
		{"a warning", []string{warned}, 0, []string{": good"}, []string{":7: warning: rest: 61 °C is below", "     7 |   - {rest: 61 °C, for: 25 min}\n"}},
		{"a mistake with its column", []string{bad + "profile-two-steps-in-one.yaml"}, 65, nil, []string{
			bad + "profile-two-steps-in-one.yaml:7: mash-out: rest and mash-out stand in one entry; give each a line of its own, after a dash\n" +
				"     7 |   - {rest: 71 °C, mash-out: 77 °C, for: 25 min}\n" +
				"       |                   ^\n",
		}},
		{"two mistakes at once", []string{bad + "profile-alias.yaml"}, 65, nil, []string{"an anchor (&first)", "an alias (*first)"}},
		{
			"a bad rig counts more than a bad profile",
			[]string{bad + "rig-no-unit.yaml", bad + "profile-no-unit.yaml", brew},
			78,
			[]string{brew + ": good"},
			[]string{"3000 what?", "63 what?"},
		},
		{"a missing file, and the next one all the same", []string{"nowhere.yaml", brew}, 66, []string{brew + ": good"}, []string{"nowhere.yaml: is missing", "check the name"}},
		{"a missing rig, and the profile all the same", []string{"--rig", "nowhere.yaml", brew}, 66, []string{brew + ": good"}, []string{"nowhere.yaml: is missing"}},
		{"what is none of ours", []string{foreign}, 65, nil, []string{foreign + ": none of the keys profile, rig, plant, faults, tuning or notify stands at its top; write one"}},
		{"what is none of ours in a folder", []string{filepath.Dir(foreign)}, 0, nil, []string{": warning: none of the keys", "passed over"}},
		{"the samples", []string{samples + "profiles", samples + "rigs"}, 0, []string{"congress", "one-rest", "rye", "small-batch", "water-only", "wheat-promised", "small-pot", "yard-kettle.yaml: good"}, nil},
		{"no file", nil, 64, nil, []string{"Name at least one"}},
		{"an empty folder", []string{t.TempDir()}, 66, nil, []string{"has no .yaml or .yml file in it; name another folder"}},
		{"a format of another house", []string{"--format", "xml", brew}, 64, nil, []string{"write text or json"}},
		{"no schema", []string{"--schema", "kettle"}, 64, nil, []string{`there is no schema of "kettle"; write one of profile, rig, plant, faults`}},
		{"a schema of a file", []string{"--schema", "rig", yard}, 64, nil, []string{"--schema goes alone"}},
		{"showing as JSON", []string{"--show", "--format", "json", yard}, 64, nil, []string{"leave --format out"}},
		{"showing nothing", []string{"--show"}, 64, nil, []string{"Name at least one"}},
		{"showing a bad file and a good one", []string{"--show", bad + "rig-no-unit.yaml", brew}, 78, []string{"profile:"}, []string{"3000 what?"}},
		{"showing what is none of ours", []string{"--show", foreign}, 65, nil, []string{"none of the keys"}},
		{"showing what is missing", []string{"--show", "nowhere.yaml"}, 66, nil, []string{"nowhere.yaml is missing"}},
		{"showing on a bad rig", []string{"--show", "--rig", bad + "rig-no-unit.yaml", brew}, 78, nil, []string{"3000 what?"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := mashward(append([]string{"check"}, c.args...)...)
			if a.code != c.code {
				t.Errorf("exit code %d, want %d", a.code, c.code)
			}
			inOrder(t, "the output", a.out, c.out)
			inOrder(t, "the messages", a.err, c.err)
		})
	}
}

// inOrder wants parts in a text, one behind the other; no parts: no text.
func inOrder(t *testing.T, what, text string, parts []string) {
	t.Helper()
	if len(parts) == 0 && text != "" {
		t.Errorf("%s should be empty:\n%s", what, text)
	}
	rest := text
	for _, p := range parts {
		_, after, ok := strings.Cut(rest, p)
		if !ok {
			t.Errorf("%q is not in its place in %s:\n%s", p, what, text)
		}
		rest = after
	}
}

// Every bad file, by itself: what is said first of a fault is Fault.String(),
// whatever is shown below it.
func TestCheckSaysOfEveryBadFileWhatItsReaderSays(t *testing.T) {
	files, err := filepath.Glob(bad + "*.yaml")
	if err != nil || len(files) < 36 {
		t.Fatalf("%d bad files: %v", len(files), err)
	}
	refused := 0
	for _, path := range files {
		r := config.CheckFile(path, nil)
		var want []string
		for _, f := range r.Faults {
			want = append(want, f.String())
		}
		a := mashward("check", path)
		if got := unindented(a.err); !reflect.DeepEqual(got, want) {
			t.Errorf("%s:\n%q\nwant\n%q", path, got, want)
		}
		if a.code != r.Code || (a.code == 0) != (a.out == path+": good\n") {
			t.Errorf("%s: exit code %d, want %d; %q", path, a.code, r.Code, a.out)
		}
		if kind := filepath.Base(path)[:3]; a.code != 0 {
			refused++
			if want := map[string]int{"rig": 78, "not": 78}[kind]; want != 0 && a.code != want || want == 0 && a.code != 65 {
				t.Errorf("%s: exit code %d", path, a.code)
			}
		}
	}
	if refused < 50 {
		t.Errorf("only %d of %d are refused", refused, len(files))
	}
}

// unindented are the lines that begin at the margin.
func unindented(text string) []string {
	var all []string
	for line := range strings.Lines(text) {
		if !strings.HasPrefix(line, " ") {
			all = append(all, strings.TrimSuffix(line, "\n"))
		}
	}
	return all
}

func TestCheckAnswersProgramsAsJSON(t *testing.T) {
	folder := t.TempDir()
	for name, text := range map[string]string{
		"a.yaml": "profile: P\nwater: 9 L\nsteps: [{rest: 60 °C, for: 1 min}]\n",
		"b.yaml": "plant: P\nelement: {powr: 1 W}\nwater: {}\nwater: {}\n",
		"c.yaml": "[]\n",
		"d.yaml": "faults: [{at: 1 s, fault: lid-off}]\n",
	} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	a := mashward("check", "--format", "json", folder, "nowhere.yaml")
	if a.code != 66 || a.err != "" {
		t.Errorf("exit code %d, messages %q", a.code, a.err)
	}
	want := `[
	 {"file": "DIR/a.yaml", "kind": "profile", "ok": true, "faults": []},
	 {"file": "DIR/b.yaml", "kind": "plant", "ok": false, "faults": [
	  {"line": 2, "column": 11, "what": "unknown key \"powr\" in element", "remedy": "write power", "warning": false},
	  {"line": 4, "column": 1, "what": "\"water\" stands twice, first in line 3", "remedy": "keep one of them", "warning": false}]},
	 {"file": "DIR/c.yaml", "kind": null, "ok": true, "faults": [
	  {"line": null, "column": null, "what": "none of the keys profile, rig, plant, faults, tuning or notify stands at its top", "remedy": "it is passed over", "warning": true}]},
	 {"file": "DIR/d.yaml", "kind": "faults", "ok": true, "faults": []},
	 {"file": "nowhere.yaml", "kind": null, "ok": false, "faults": [
	  {"line": null, "column": null, "what": "is missing (no such file or directory)", "remedy": "check the name", "warning": false}]}]`
	var got, wanted any
	if err := json.Unmarshal([]byte(a.out), &got); err != nil {
		t.Fatalf("%v\n%s", err, a.out)
	}
	if err := json.Unmarshal([]byte(strings.ReplaceAll(want, "DIR", folder)), &wanted); err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(got, wanted) {
		t.Errorf("got\n%s\nwant\n%s", a.out, want)
	}
}

func TestCheckWritesEverySchema(t *testing.T) {
	for _, kind := range schema.Kinds() {
		want, _ := schema.Text(kind)
		if a := mashward("check", "--schema", kind); a.code != 0 || a.out != string(want) || a.err != "" {
			t.Errorf("%s: exit code %d, %q\n%s", kind, a.code, a.err, a.out)
		}
	}
}

// What is shown of a rig is the plant it is rehearsed on: with it or without it,
// the whole day comes out the same, second by second.
func TestARehearsalOnTheShownPlantIsTheSame(t *testing.T) {
	for _, c := range [][2]string{{yard, brew}, {pot, samples + "profiles/small-batch.yaml"}} {
		shown := mashward("check", "--show", c[0])
		if shown.code != 0 || !strings.HasPrefix(shown.out, "# "+c[0]+"\n") {
			t.Fatalf("exit code %d\n%s%s", shown.code, shown.out, shown.err)
		}
		plant := file(t, "plant.yaml", shown.out)
		if a := mashward("check", plant); a.code != 0 || a.err != "" {
			t.Fatalf("what is shown is refused: %s", a.err)
		}
		traces := [2]string{filepath.Join(t.TempDir(), "without.csv"), filepath.Join(t.TempDir(), "with.csv")}
		without := mashward("dryrun", "--rig", c[0], "--format", "json", "--trace", traces[0], c[1])
		with := mashward("dryrun", "--rig", c[0], "--format", "json", "--trace", traces[1], "--plant", plant, c[1])
		if without.code != 0 || without.out != with.out {
			t.Errorf("%s: exit codes %d and %d\n%s\n%s", c[0], without.code, with.code, without.out, with.out)
		}
		first, err := os.ReadFile(traces[0])
		if err != nil {
			t.Fatal(err)
		}
		second, err := os.ReadFile(traces[1])
		if err != nil {
			t.Fatal(err)
		}
		if len(first) < 100_000 || string(first) != string(second) {
			t.Errorf("%s: traces of %d and %d bytes differ", c[0], len(first), len(second))
		}
	}
}

func TestSeveralShownFilesArePartedAndEachIsGood(t *testing.T) {
	a := mashward("check", "--show", "--rig", yard, brew, samples+"profiles/one-rest.yaml", samples+"faults/example.yaml")
	parts := strings.Split(a.out, "---\n")
	if a.code != 0 || len(parts) != 3 || a.err != "" {
		t.Fatalf("exit code %d, %d parts\n%s%s", a.code, len(parts), a.out, a.err)
	}
	for _, part := range parts {
		if again := mashward("check", file(t, "part.yaml", part)); again.code != 0 {
			t.Errorf("%s\n%s", again.err, part)
		}
	}
}

// What a file holds must not reach the terminal as a command to it, and a long
// line is cut around the place.
func TestTheShownLineIsPlainAndNotTooLong(t *testing.T) {
	long := strings.Repeat("x", 300)
	for _, c := range []struct {
		line        string
		column      int
		shown       string
		shownColumn int
	}{
		{"water: 7 gal", 8, "water: 7 gal", 8},
		{"a\x1b[2Jb\tc\u0085d\u202ee  \r", 3, "a [2Jb c d e", 3},
		{"\xff\xfe: 1", 1, "?: 1", 1},
		{long, 0, long[:100] + "...", 0},
		{long, 10, long[:100] + "...", 10},
		{long + "y", 301, "..." + long[:59] + "y", 63},
		{long, 200, "..." + long[:97] + "...", 63},
		{"short", 900, "short", 900},
	} {
		text, column := fit(c.line, c.column)
		if text != c.shown || column != c.shownColumn {
			t.Errorf("%.20q at %d: %q at %d, want %q at %d", c.line, c.column, text, column, c.shown, c.shownColumn)
		}
	}
	var b strings.Builder
	excerpt(&b, strict.Fault{Line: 9, Column: 1}, []byte("one line\n"))
	if b.Len() > 0 {
		t.Errorf("a line that is not there is shown: %q", b.String())
	}
	excerpt(&b, strict.Fault{Line: 2}, []byte("one\ntwo\n"))
	if want := fmt.Sprintf("%6d | two\n", 2); b.String() != want {
		t.Errorf("%q, want %q", b.String(), want)
	}
}
