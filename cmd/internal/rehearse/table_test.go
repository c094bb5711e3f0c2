package rehearse

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/unit"
	"mashward/profile/strict"
	"mashward/sim/fault"
)

const tableFile = samples + "/faults/campaign/table.yaml"

// levels are where a row of the table is shown.
var levels = []string{"simulator", "program", "hardware"}

// sort is what is expected of a row, the graver the larger.
type sort uint8

const (
	noSort   sort = iota
	unseen        // nothing: no software can see it
	goesOn        // nothing: it is no fault
	alarms        // an alarm of the core
	offers        // heat is off, and a new process offers the batch
	cuts          // a cut, or the trip that it becomes
	isHeld        // heat and pump off by the batch itself, for that reason
	ends          // the same, for good
	tripping      // a trip
)

var sortWords = map[string]sort{"unseen": unseen, "goes-on": goesOn, "alarm": alarms, "offered": offers, "cut": cuts, "held": isHeld, "ended": ends, "trip": tripping}

// tableRow is one fault of the table.
type tableRow struct {
	id, what, level string
	line            int

	where   string
	script  fault.Script
	special string   // what a script cannot say
	on      []string // places of the probe; none: any kettle
	counts  string   // from when on the delay counts; "": from the fault

	expect  sort
	ids     []string // rules, alarms or reasons any of which is right
	may     []string // cuts that may come beside it
	within  time.Duration
	latches time.Duration // by when a cut has become a trip; 0: it does not
	off     unit.Kelvin   // unseen: the true mash gets so far from its target
	watched time.Duration // unseen: for so long
	back    time.Duration // by when heat is free again after the fault
	lies    bool          // the probe does: the true temperature is nobody's promise
	short   unit.Ratio    // of all runs it is known to fail so many: said, and held to
	below   unit.Kelvin   // how far below its target the batch may be and still be on its course
	blinds  time.Duration // pairs: for so long after it the checks see little else
	hidden  time.Duration // pairs: by when it is found at the latest, where the other event hides its beginning
	once    bool          // only its beginning shows: a new process sees nothing of it
	lasts   bool          // nobody can mend it: the batch does not go on
	record  bool          // the record reads back whole, and replays

	tests    []string
	notShown string
}

var tableKeys = strict.Keys{
	"id", "what", "shown", "where", "faults", "special", "on", "counts", "expect", "may", "within", "latches",
	"off", "back", "watched", "lies", "lasts", "below", "blinds", "hidden", "once", "short", "record", "tests", "not_shown",
}

// simulated tells whether the row is run here.
func (r *tableRow) simulated() bool { return r.where != "" }

func (r *tableRow) name() string { return r.id + " " + r.what }

// readTable reads the table and holds it to what a row must say.
func readTable(name string, text []byte) ([]tableRow, []strict.Fault) {
	doc := strict.Parse(name, text)
	var rows []tableRow
	for _, item := range doc.Map(strict.Keys{"campaign"}).List("campaign", strict.Required) {
		rows = append(rows, readRow(item.Map(tableKeys)))
	}
	return rows, doc.Faults()
}

func readRow(m *strict.Map) tableRow {
	long := strict.MaxRunes(160)
	r := tableRow{
		id: m.Text("id", strict.Required), what: m.Text("what", strict.Required, long), line: m.Line(),
		level: m.Word("shown", levels, strict.Required), where: m.Word("where", placeWords()), special: m.Word("special", specialWords()),
		counts: m.Word("counts", countWords()), script: fault.Read(m), on: wordsOf(m, "on"), may: wordsOf(m, "may"),
		within: m.Duration("within"), back: m.Duration("back", strict.Default(20*time.Second)), latches: m.Duration("latches"), watched: m.Duration("watched"), off: m.Kelvin("off"),
		short: m.Ratio("short", strict.Between[unit.Ratio](0, 0.5)), below: m.Kelvin("below", strict.Default[unit.Kelvin](1)), blinds: m.Duration("blinds"),
		hidden: m.Duration("hidden"), once: m.Yes("once"), lies: m.Yes("lies"), lasts: m.Yes("lasts"), record: m.Yes("record"), tests: wordsOf(m, "tests"), notShown: m.Text("not_shown", long),
	}
	r.expectation(m)
	for _, f := range r.script {
		if f.At.OfStep {
			m.Refuse("faults", "a moment of a step", "write a time from where the row begins")
		}
	}
	switch {
	case !regexp.MustCompile(`^[A-H][0-9]{1,2}[a-z]?$`).MatchString(r.id):
		m.Refuse("id", "not a letter and a number", "write A1")
	case r.simulated() != (r.level == "simulator" && len(r.tests) == 0 && r.notShown == ""):
		m.Refuse("where", "a row is run here, or names the tests that show it, or says why nothing does", "write one of the three")
	case !r.simulated() && (len(r.tests) == 0) == (r.notShown == ""):
		m.Refuse("tests", "tests that show it, or why nothing does", "write one of them")
	case r.simulated() && (r.expect == noSort || r.within == 0 && r.expect != goesOn && r.expect != unseen):
		m.Refuse("expect", "no reaction, or no time for it", "write expect and within")
	case r.simulated() && len(r.script) == 0 && r.special == "":
		m.Refuse("faults", "nothing is injected", "write faults or special")
	}
	return r
}

// expectation reads "cut stale" or "trip not-heating or too-fast".
func (r *tableRow) expectation(m *strict.Map) {
	words := strings.Fields(m.Text("expect", strict.MaxRunes(120)))
	if len(words) == 0 {
		return
	}
	r.expect = sortWords[words[0]]
	known := map[string]bool{}
	for _, rule := range interlock.Rules() {
		known[rule.String()] = r.expect == cuts || r.expect == tripping
	}
	for a := range controller.AlarmCount {
		known[controller.Alarm(a).String()] = known[controller.Alarm(a).String()] || r.expect == alarms
	}
	for _, reason := range []controller.Reason{controller.ByOperator, controller.NobodyCame, controller.PowerCut} {
		known[strings.ReplaceAll(reason.String(), " ", "-")] = r.expect == isHeld || r.expect == ends
	}
	for _, id := range words[1:] {
		if id == "or" {
			continue
		}
		if r.ids = append(r.ids, id); !known[id] {
			m.Refuse("expect", id+" is not known of a "+words[0], "compare with SAFETY.md")
		}
	}
	named := r.expect == cuts || r.expect == tripping || r.expect == alarms || r.expect == isHeld || r.expect == ends
	if r.expect == noSort || named != (len(r.ids) > 0) {
		m.Refuse("expect", "not a reaction", "write cut ID, trip ID, alarm ID, held or ended REASON, offered, goes-on or unseen")
	}
}

func wordsOf(m *strict.Map, key string) (all []string) {
	for _, item := range m.List(key) {
		w, ok := item.Word()
		if !ok {
			item.Refuse("no word", "write a word")
		}
		all = append(all, w)
	}
	return all
}

// theTable is the table, which must be without a fault.
func theTable(t *testing.T) []tableRow {
	t.Helper()
	text, err := os.ReadFile(tableFile)
	if err != nil {
		t.Fatal(err)
	}
	rows, faults := readTable(tableFile, text)
	for _, f := range faults {
		t.Error(f)
	}
	if t.Failed() {
		t.FailNow()
	}
	return rows
}

// TestTheFaultTableIsWhole: each fault of A to F and H has its row, and each
// test that a row names is there.
func TestTheFaultTableIsWhole(t *testing.T) {
	rows := theTable(t)
	there := testNames(t)
	seen := map[string]bool{}
	for _, r := range rows {
		seen[strings.TrimRight(r.id, "abcdefgh")] = true
		for _, name := range r.tests {
			whole, _, _ := strings.Cut(name, "/")
			if !slices.Contains(there, whole) {
				t.Errorf("%s:%d: %s: there is no test %s", tableFile, r.line, r.id, name)
			}
		}
	}
	for group, n := range map[string]int{"A": 18, "B": 14, "C": 12, "D": 16, "E": 9, "F": 12, "H": 9} {
		for i := range n {
			if id := fmt.Sprintf("%s%d", group, i+1); !seen[id] {
				t.Errorf("%s has no row", id)
			}
		}
	}
}

// testNames are the tests of all packages.
func testNames(t *testing.T) []string {
	t.Helper()
	var names []string
	test := regexp.MustCompile(`(?m)^func (Test\w+)\(`)
	err := filepath.WalkDir("../../..", func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		for _, m := range test.FindAllSubmatch(text, -1) {
			names = append(names, string(m[1]))
		}
		return err
	})
	if err != nil || len(names) < 500 {
		t.Fatalf("%d tests found: %v", len(names), err)
	}
	return names
}

// TestATableRowThatSaysTooLittleIsRefused, with its line.
func TestATableRowThatSaysTooLittleIsRefused(t *testing.T) {
	const good = "campaign:\n  - {id: A1, what: w, shown: simulator, where: rest, faults: [{at: 0 s, fault: probe-open}], expect: cut stale, within: 6 s}\n"
	if _, faults := readTable("t", []byte(good)); len(faults) > 0 {
		t.Fatal(faults)
	}
	for _, c := range [][2]string{
		{"id: A1", "id: one"},
		{"cut stale", "cut state"},
		{"cut stale", "goes-on stale"},
		{"cut stale", "alarm stale"},
		{", within: 6 s", ""},
		{", expect: cut stale", ""},
		{"faults: [{at: 0 s, fault: probe-open}], ", ""},
		{"at: 0 s", "at: {step: 2}"},
		{"where: rest, ", ""},
		{"shown: simulator", "shown: program"},
		{"within: 6 s", "within: 6 s, tests: [TestA]"},
		{"within: 6 s", "within: 6 s, witin: 3 s"},
		{"probe-open", "probe-opn"},
	} {
		if _, faults := readTable("t", []byte(strings.Replace(good, c[0], c[1], 1))); len(faults) == 0 || faults[0].Line != 2 {
			t.Errorf("%s for %s: %v", c[1], c[0], faults)
		}
	}
}
