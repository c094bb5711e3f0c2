package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// documented holds JSON to a schema of the interface's document, by a validator that
// knows nothing of either.
func documented(t *testing.T, text, schema string) {
	t.Helper()
	document, err := os.ReadFile("internal/api/openapi.json")
	if err != nil {
		t.Fatal(err)
	}
	root, err := jsonschema.UnmarshalJSON(bytes.NewReader(document))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	const url = "http://test.invalid/openapi.json"
	if err := c.AddResource(url, root); err != nil {
		t.Fatal(err)
	}
	closed, err := jsonschema.UnmarshalJSON(strings.NewReader(`{"$ref": "` + url + `#/components/schemas/` + schema +
		`", "properties": {"suggestion": {"$ref": "` + url + `#/components/schemas/Suggestion"}}, "unevaluatedProperties": false}`))
	if err != nil {
		t.Fatal(err)
	}
	if err := c.AddResource("http://test.invalid/closed.json", closed); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("http://test.invalid/closed.json")
	if err != nil {
		t.Fatal(err)
	}
	v, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
	if err != nil {
		t.Fatalf("%v: %.300s", err, text)
	}
	if err := s.Validate(v); err != nil {
		t.Errorf("%s: %v", schema, err)
	}
}

// One day as it should be and one on another kettle, with a person who takes his time
// and a welded relay: what is printed of them is as the document says, from the record
// and from a bundle of it.
func TestWhatIsPrintedOfRecordsIsAsTheDocumentSays(t *testing.T) {
	dir := t.TempDir()
	one, other, packed := filepath.Join(dir, "one.batch"), filepath.Join(dir, "other.batch"), filepath.Join(dir, "other.tar")
	faults := file(t, "welded.yaml", "faults:\n  - {at: {step: 2, after: 15 min}, fault: relay-welded, for: 2 min}\n  - {at: 60 min, fault: probe-open, for: 20 s}\n")
	if a := mashward("dryrun", "--rig", yard, "--record", one, brew); a.code != 0 {
		t.Fatal(a)
	}
	if a := mashward("dryrun", "--rig", yard, "--plant", file(t, "weak.yaml", weak), "--faults", faults, "--person-delay", "2 min", "--record", other, brew); a.code != 1 {
		t.Fatal(a)
	}
	if a := mashward("record", "bundle", "--out", packed, other); a.code != 0 || a.out != "" || !strings.Contains(a.err, "read them before you give it away") {
		t.Fatal(a)
	}
	for _, path := range []string{one, other, packed} {
		a := mashward("record", "show", "--format", "json", path)
		documented(t, a.out, "Account")
		if a.code != 0 || strings.Contains(a.out, "Config") {
			t.Errorf("%s: %d", path, a.code)
		}
	}
	if a := mashward("record", "show", "--format", "json", other); !strings.Contains(a.out, `"suggestion": {`) {
		t.Error("what the strike heat-up showed is not in it")
	}
	for _, b := range []string{other, packed} {
		a := mashward("record", "compare", "--format", "json", one, b)
		documented(t, a.out, "Comparison")
		text := mashward("record", "compare", one, b)
		for _, want := range []string{"trip: heating-while-off", "waited for pour", "kWh", "The mash was, by window"} {
			if a.code != 0 || text.code != 0 || !strings.Contains(text.out, want) {
				t.Errorf("%d, %d: %q is missing in\n%s", a.code, text.code, want, text.out)
			}
		}
	}
	a, b := mashward("record", "compare", other, packed), mashward("record", "replay", packed)
	if !strings.Contains(a.out, "nothing: profile, kettle") || b.code != 0 || !strings.Contains(b.out, "ticks give the same decisions") {
		t.Errorf("a record and its bundle differ:\n%s%s", a.out, b.out)
	}
}

func TestAReportIsMadeOfARecordAndOfABundle(t *testing.T) {
	dir := t.TempDir()
	batch, packed := filepath.Join(dir, "day.batch"), filepath.Join(dir, "day.tar")
	first := filepath.Join(dir, "first.html")
	for _, args := range [][]string{
		{"dryrun", "--rig", yard, "--tariff", "0.5 CHF/kWh", "--record", batch, "--report", first, brew},
		{"record", "bundle", batch, "--out", packed},
		{"record", "report", batch, "--out", filepath.Join(dir, "record.html")},
		{"record", "report", packed, "--out", filepath.Join(dir, "bundle.html"), "--tariff", "71 HUF/kWh"},
	} {
		if a := mashward(args...); a.code != 0 {
			t.Fatal(args, a)
		}
	}
	for name, want := range map[string][]string{
		"first.html":  {"At 0.5\u00a0CHF a kWh that is", "true temperatures", "This is a rehearsal"},
		"record.html": {"At 0.32\u00a0EUR a kWh that is", "those of the estimate", "This is the record of a day on a simulated kettle"},
		"bundle.html": {"At 71\u00a0HUF a kWh that is"},
	} {
		page, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range append(want, "Plan and day", "Where the mash was", "Enzymes: an estimate", "What the kettle taught", "SHA-256 of its text", "Program: mashward", "<td>15:00</td>") {
			if !strings.Contains(string(page), w) {
				t.Errorf("%s lacks %q", name, w)
			}
		}
	}
}

func TestExitCodesOfWhatIsMadeOfRecords(t *testing.T) {
	dir := t.TempDir()
	batch := filepath.Join(dir, "day.batch")
	ending{0, "", []string{"dryrun", "--rig", yard, "--record", batch, filepath.Join(filepath.Dir(brew), "water-only.yaml")}}.check(t)
	zipped := file(t, "day.zip", "PK\x03\x04 and so on")
	half := file(t, "half.tar", "manifest.json\x00 and no more")
	older := "../internal/account/testdata/written-2026-11-26.batch"
	const another = "read it with the version of the program that wrote it"
	for _, e := range []ending{
		{0, "What differs", []string{"record", "compare", batch, batch}},
		{0, "another version of the program wrote it", []string{"record", "show", older}},
		{0, "only B", []string{"record", "compare", older, batch}},
		{1, "", []string{"record", "replay", older}},
		{65, "holds no rig file", []string{"record", "rig", older}},
		{65, another, []string{"record", "bundle", older, "--out", filepath.Join(dir, "older.tar")}},
		{64, "compare takes two records", []string{"record", "compare", batch}},
		{64, "where should the report go?", []string{"record", "report", batch}},
		{64, "where should the bundle go?", []string{"record", "bundle", batch}},
		{64, "is there already", []string{"record", "bundle", batch, "--out", batch}},
		{64, "is no price of energy", []string{"record", "report", batch, "--out", filepath.Join(dir, "x.html"), "--tariff", "0.32"}},
		{64, "is no price of energy", []string{"dryrun", "--rig", yard, "--tariff", "0.32 €/kWh", brew}},
		{65, "a compressed file", []string{"record", "show", zipped}},
		{65, "ends too early", []string{"record", "compare", batch, half}},
		{66, "nowhere.batch", []string{"record", "compare", batch, "nowhere.batch"}},
		{74, "cannot be written", []string{"record", "bundle", batch, "--out", filepath.Join(batch, "such.tar")}},
	} {
		e.check(t)
	}
}
