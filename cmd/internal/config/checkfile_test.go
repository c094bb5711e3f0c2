package config

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"mashward/profile/strict"
)

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func TestTheKindOfAFileIsToldByItsKeys(t *testing.T) {
	for text, want := range map[string]string{
		"rig: a":                              "rig",
		"plant: a":                            "plant",
		"faults: []":                          "faults",
		"profile: a":                          "profile",
		"{\"profile\": \"a\", \"steps\": []}": "profile",
		"# profile:\nrig: a":                  "rig",
		"steps: []":                           "profile",
		"kettle: {}":                          "rig",
		"evaporation: {}\nelement: {}":        "plant",
		"rig: a\nvessel: {}":                  "rig",
		"rig: a\ntuning: a.yaml":              "rig",
		"kettle: {}\ntuning: a.yaml":          "rig",
		"tuning: a\nloss: 5 W/K":              "tuning", // loss is a key of a plant too
		"lags: {}":                            "tuning",
		"proflie: a":                          "profile",
		"Plant: a":                            "plant",
		"rig: {a\nkettle":                     "rig", // no YAML at all
		"\tfaults\nfaults: x":                 "faults",
		"element: {}":                         "", // in a rig and in a plant
		"a: {profile: b}":                     "",
		"- rig":                               "",
		"":                                    "",
	} {
		if got := KindOf([]byte(text)); got != want {
			t.Errorf("%q is a %q, want %q", text, got, want)
		}
	}
}

func TestAFolderIsCheckedWithAllBelowIt(t *testing.T) {
	dir := t.TempDir()
	in := func(name string) string { return filepath.Join(dir, name) }
	write(t, in("a.yaml"), "profile: P\nwater: 9 L\nsteps: [{rest: 60 °C, for: 1 min}]\n")
	write(t, in("deep/er/b.YML"), "faults: [{at: 1 s, fault: lid-of}]\n")
	write(t, in("deep/er/c.yaml"), "rig: R\n")
	write(t, in("other.yaml"), "groups: [{name: alerts}]\n")
	write(t, in("notes.txt"), "rig: not looked at\n")
	write(t, in(".hidden/d.yaml"), "rig: not looked at\n")
	write(t, in(".e.yaml"), "rig: not looked at\n")
	write(t, in("empty.yaml"), "")
	want := []struct {
		file, kind string
		code       int
		said       string
	}{
		{"a.yaml", "profile", 0, ""},
		{"deep/er/b.YML", "faults", ExitBadInput, "write lid-off"},
		{"deep/er/c.yaml", "rig", ExitBadRig, "kettle is missing"},
		{"empty.yaml", "", ExitBadInput, "the file is empty"},
		{"other.yaml", "", 0, "warning: none of the keys"},
	}
	got := CheckAll([]string{dir, in("a.yaml"), dir + "/./a.yaml"}, "")
	if len(got) != len(want) {
		t.Fatalf("%d reports: %+v", len(got), got)
	}
	for i, w := range want {
		g := got[i]
		if g.File != in(w.file) || g.Kind != w.kind || g.Code != w.code || !strings.Contains(lines(g.Faults), w.said) || w.said == "" && len(g.Faults) > 0 {
			t.Errorf("%s: %+v\n%s", w.file, g, lines(g.Faults))
		}
	}
	// Named by itself, what is none of ours is refused.
	if r := CheckFile(in("other.yaml"), nil); r.Code != ExitBadInput || !strict.Refused(r.Faults) {
		t.Errorf("%+v", r)
	}
	// A folder without anything to check is most likely the wrong one.
	write(t, in("texts/a.txt"), "")
	if r := CheckAll([]string{in("texts")}, ""); len(r) != 1 || r[0].Code != ExitMissing || !strings.Contains(lines(r[0].Faults), "has no .yaml or .yml file") {
		t.Errorf("%+v", r)
	}
}

func lines(faults []strict.Fault) string {
	var all []string
	for _, f := range faults {
		all = append(all, f.String())
	}
	return strings.Join(all, "\n")
}

func TestTheRigIsReportedOnAndHeldAgainst(t *testing.T) {
	day, yard, pot := testdata+"profiles/rye-four-rests.yaml", testdata+"rigs/yard-kettle.yaml", testdata+"rigs/small-pot.yaml"
	for _, c := range []struct {
		rig   string
		codes []int
		said  string
	}{
		{"", []int{0}, ""},
		{yard, []int{0, 0}, "warning: the element draws"},
		{pot, []int{0, ExitBadInput}, "the kettle holds 20.0 L"},
		{testdata + "bad/rig-no-unit.yaml", []int{ExitBadRig, 0}, "3000 what?"},
		{"nowhere.yaml", []int{ExitMissing, 0}, "nowhere.yaml: is missing"},
	} {
		reports := CheckAll([]string{day}, c.rig)
		var codes []int
		said := ""
		for _, r := range reports {
			codes = append(codes, r.Code)
			said += lines(r.Faults) + "\n"
		}
		if len(codes) != len(c.codes) || codes[0] != c.codes[0] || codes[len(codes)-1] != c.codes[len(c.codes)-1] || !strings.Contains(said, c.said) {
			t.Errorf("%s: codes %v, want %v\n%s", c.rig, codes, c.codes, said)
		}
	}
	if reports := CheckAll([]string{yard, day}, yard); len(reports) != 2 {
		t.Errorf("the rig is reported on twice: %+v", reports)
	}
}

func TestFaultsOfAProfileStandInTheOrderOfTheFile(t *testing.T) {
	r, _ := ParseRig("", contents(t, testdata+"rigs/yard-kettle.yaml"))
	faults := CheckFile(testdata+"bad/profile-rest-below-the-one-before.yaml", &r).Faults
	if len(faults) < 3 {
		t.Fatalf("too few to see an order:\n%s", lines(faults))
	}
	for i := 1; i < len(faults); i++ {
		if faults[i].Line < faults[i-1].Line {
			t.Errorf("out of order:\n%s", lines(faults))
		}
	}
}

func TestATuningThatIsMissingIsSaidOfTheRig(t *testing.T) {
	file := filepath.Join(t.TempDir(), "r.yaml")
	write(t, file, string(contents(t, testdata+"rigs/small-pot.yaml"))+"tuning: nowhere.tuning.yaml\n")
	r := CheckFile(file, nil)
	if r.Code != ExitMissing || len(r.Faults) != 1 || r.Faults[0].File != file ||
		!strings.Contains(r.Faults[0].What, "nowhere.tuning.yaml is missing") || !strings.Contains(r.Faults[0].Remedy, "mashward tune") {
		t.Errorf("%+v", r)
	}
}

func TestAFolderWhereAFileBelongsIsToldSo(t *testing.T) {
	if reports := CheckAll([]string{testdata + "profiles/one-rest.yaml"}, testdata+"rigs"); reports[0].Code != ExitIO {
		t.Errorf("%+v", reports[0])
	}
}
