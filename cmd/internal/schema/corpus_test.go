package schema

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"mashward/profile/strict"
)

// folders are where the samples of a kind lie.
var folders = map[string]string{"profile": "profiles", "rig": "rigs", "plant": "plants", "faults": "faults", "notify": "notify"}

func TestEverySampleIsGoodByItsSchema(t *testing.T) {
	seen := 0
	for _, kind := range Kinds() {
		check := judge(t, kind)
		files, err := filepath.Glob(testdata + folders[kind] + "/*.yaml")
		if err != nil || len(files) == 0 {
			t.Fatalf("no samples of %s: %v", kind, err)
		}
		for _, file := range files {
			v, err := tree(contents(t, file))
			if err != nil {
				t.Fatal(err)
			}
			if err := check(v); err != nil {
				t.Errorf("%s: %v", file, err)
			}
			seen++
		}
	}
	if seen < 9 {
		t.Errorf("%d samples", seen)
	}
}

// Why the schema of a kind says nothing about a bad file.
const (
	twoValues   = "it takes two values to see it, or the whole day"
	withAKettle = "it takes the kettle to see it"
	notATree    = "it lies in how the YAML is written, which no schema sees"
	aRange      = "the number lies outside its range, and the number stands in a text with its unit"
	withinAText = "it lies within a text"
	aWarning    = "it is no more than a warning"
)

// unseen are the bad files whose mistake their schema cannot see.
var unseen = map[string]string{
	"notify-no-json.yaml":                        twoValues,
	"notify-own-header.yaml":                     withinAText,
	"notify-password-in-address.yaml":            withinAText,
	"notify-same-name-twice.yaml":                twoValues,
	"notify-secret-in-the-open.yaml":             aWarning,
	"notify-timeout-too-long.yaml":               aRange,
	"notify-unknown-field.yaml":                  withinAText,
	"plant-lid.yaml":                             twoValues,
	"plant-share-out-of-range.yaml":              aRange,
	"profile-addition-outside-the-boil.yaml":     twoValues,
	"profile-alias.yaml":                         notATree,
	"profile-boil-before-lift.yaml":              twoValues,
	"profile-boils-dry.yaml":                     twoValues,
	"profile-duplicate-key.yaml":                 notATree,
	"plant-duplicate-section.yaml":               notATree,
	"profile-grain-without-mash-in.yaml":         twoValues,
	"profile-expect-a-chill-reached.yaml":        twoValues,
	"profile-expect-below-the-target.yaml":       twoValues,
	"profile-expect-no-such-step.yaml":           twoValues,
	"profile-expect-of-a-boil.yaml":              twoValues,
	"profile-expect-shorter-than-its-steps.yaml": twoValues,
	"profile-expect-the-same-twice.yaml":         twoValues,
	"profile-level-too-low.yaml":                 withAKettle,
	"profile-lift-after-chill.yaml":              twoValues,
	"profile-mash-in-without-grain.yaml":         twoValues,
	"profile-mash-too-hot.yaml":                  aRange,
	"profile-merge.yaml":                         notATree,
	"profile-not-utf8.yaml":                      notATree,
	"profile-not-yaml.yaml":                      notATree,
	"profile-rest-above-the-boil.yaml":           withAKettle,
	"profile-rest-below-the-one-before.yaml":     aWarning,
	"profile-second-document.yaml":               notATree,
	"profile-tab.yaml":                           notATree,
	"profile-tag.yaml":                           notATree,
	"profile-too-large-for-the-kettle.yaml":      withAKettle,
	"profile-too-little-water.yaml":              twoValues,
	"profile-too-much-water.yaml":                aRange,
	"rig-element-above-the-rim.yaml":             twoValues,
	"rig-element-bare.yaml":                      twoValues,
	"rig-fuse-too-small.yaml":                    twoValues,
	"rig-kettle-too-small.yaml":                  twoValues,
	"rig-hot-side-unseen.yaml":                   "where the probe sits decides",
	"rig-loosened-limit.yaml":                    twoValues,
	"rig-probe-bare.yaml":                        twoValues,
	"rig-return-blind-in-the-boil.yaml":          twoValues,
	"rig-shared-line.yaml":                       twoValues,
	"rig-tight-limit.yaml":                       aWarning,
	"rig-weak-element.yaml":                      twoValues,
	"profile-cleaner-at-the-boil.yaml":           twoValues,
	"profile-water-brew-with-grain.yaml":         twoValues,
}

func TestASchemaRefusesEveryBadFileItCanSee(t *testing.T) {
	files, err := filepath.Glob(testdata + "bad/*.yaml")
	if err != nil || len(files) < 36 {
		t.Fatalf("%d bad files, %v", len(files), err)
	}
	checks := map[string]func(any) error{}
	for _, kind := range Kinds() {
		checks[kind] = judge(t, kind)
	}
	refused := 0
	for _, file := range files {
		name := filepath.Base(file)
		kind, _, _ := strings.Cut(name, "-")
		v, err := tree(contents(t, file))
		reason, blind := unseen[name]
		if err != nil {
			if reason != notATree {
				t.Errorf("%s cannot be read: %v", name, err)
			}
			continue
		}
		switch refuses := checks[kind](v) != nil; {
		case refuses && blind:
			t.Errorf("%s is refused by the schema, and listed as unseen: %s", name, reason)
		case !refuses && !blind:
			t.Errorf("%s is good by the schema; mend the schema, or list it with its reason", name)
		case refuses:
			refused++
		}
	}
	for name := range unseen {
		if _, err := os.Stat(testdata + "bad/" + name); err != nil {
			t.Errorf("unseen lists a file that is gone: %v", err)
		}
	}
	t.Logf("%d of %d bad files are refused by their schema", refused, len(files))
}

func TestSchemasAreTheSameEveryTimeAndEndWithALineBreak(t *testing.T) {
	for _, kind := range Kinds() {
		first, _ := Text(kind)
		second, _ := Text(kind)
		if !bytes.Equal(first, second) || !json.Valid(first) || !bytes.HasSuffix(first, []byte("}\n")) {
			t.Errorf("%s", first)
		}
		if !bytes.HasPrefix(first, []byte("{\n \"$schema\": \"https://json-schema.org/draft/2020-12/schema\"")) {
			t.Errorf("%s does not begin with its draft", kind)
		}
	}
	if text, ok := Text("kettle"); ok || text != nil {
		t.Errorf("a schema for no kind: %s", text)
	}
}

// What a reader takes, its schema takes too: an editor must not underline what
// is good.
func FuzzNoSchemaRefusesWhatTheReaderTakes(f *testing.F) {
	checks := map[string]func(any) error{}
	for i, kind := range Kinds() {
		checks[kind] = judge(f, kind)
		for _, text := range full[kind] {
			f.Add(uint8(i), []byte(text))
		}
		files, err := filepath.Glob(testdata + folders[kind] + "/*.yaml")
		if err != nil {
			f.Fatal(err)
		}
		for _, file := range files {
			text, err := os.ReadFile(file)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(uint8(i), text)
		}
	}
	f.Fuzz(func(t *testing.T, which uint8, text []byte) {
		kind := Kinds()[int(which)%len(Kinds())]
		if _, faults := reader(t, kind)(text); strict.Refused(faults) {
			return
		}
		v, err := tree(text)
		if err != nil {
			t.Fatalf("the reader takes what is no YAML: %v", err)
		}
		if _, err := json.Marshal(v); err != nil {
			return // a name such as .inf: text to the reader, and nothing JSON can say
		}
		if err := checks[kind](v); err != nil {
			t.Errorf("%s\n%s", text, err)
		}
	})
}
