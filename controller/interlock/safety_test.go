package interlock

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

func safetyPage(t *testing.T) string {
	t.Helper()
	page, err := os.ReadFile("../../SAFETY.md")
	if err != nil {
		t.Fatal(err)
	}
	return string(page)
}

// ruleRows are the rows of the table of rules, without heading and rule line.
func ruleRows(t *testing.T, page string) [][]string {
	t.Helper()
	_, table, found := strings.Cut(page, "\n| id |")
	if !found {
		t.Fatal("SAFETY.md has no table that begins with the column id")
	}
	var rows [][]string
	for i, line := range strings.Split(table, "\n") {
		if i < 2 {
			continue
		}
		if !strings.HasPrefix(line, "|") {
			break
		}
		cells := strings.Split(strings.Trim(line, "|"), "|")
		for i := range cells {
			cells[i] = strings.TrimSpace(cells[i])
		}
		rows = append(rows, cells)
	}
	return rows
}

func TestSafetyPageHasARowForEachRuleAndNoOther(t *testing.T) {
	rows, rules := ruleRows(t, safetyPage(t)), Rules()
	if len(rows) != len(rules) {
		t.Fatalf("SAFETY.md has %d rows for %d rules", len(rows), len(rules))
	}
	for i, r := range rules {
		row := rows[i]
		if len(row) != 6 || row[0] != r.String() {
			t.Errorf("row %d is %q, want six cells for %v", i+1, row, r)
			continue
		}
		for c, cell := range row {
			if cell == "" {
				t.Errorf("%v: cell %d is empty", r, c+1)
			}
		}
		if row[2] != effect(r) {
			t.Errorf("%v: the page says %q, the rule does %q", r, row[2], effect(r))
		}
		if strings.Contains(row[3], "not built yet") {
			t.Errorf("%v: the page says %q about a limit", r, row[3])
		}
		if _, ok := ruleTests[r]; !ok || row[5] != "`TestEachRule/"+r.String()+"`" {
			t.Errorf("%v: the page names the test %s (exists: %v)", r, row[5], ok)
		}
	}
}

// effect is the third cell that belongs to the rule.
func effect(r Rule) string {
	switch {
	case r == Empty:
		return "cut by the switch; trip by the balance"
	case r.persists():
		return "cut; trip when it lasts more than 60 s under arming"
	case r.cuts():
		return "cut"
	}
	return "trip"
}

func TestEveryTestNamedOnTheSafetyPageExists(t *testing.T) {
	code := ""
	for _, dir := range []string{".", "../line", "../../cmd/mashward", "../../cmd/mashward/internal/daemon", "../../cmd/internal/house", "../../cmd/internal/rehearse"} {
		files, err := filepath.Glob(filepath.Join(dir, "*_test.go"))
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range files {
			text, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			code += string(text)
		}
	}
	names := regexp.MustCompile(`Test[A-Z]\w+`).FindAllString(safetyPage(t), -1)
	if len(names) < 14+4 {
		t.Errorf("SAFETY.md names %d tests", len(names))
	}
	for _, n := range names {
		if !strings.Contains(code, "func "+n+"(t *testing.T)") {
			t.Errorf("SAFETY.md names %s, which does not exist", n)
		}
	}
}

// "Off" must never read as "safe to touch".
func TestSafetyPageNeverCallsTheKettleOff(t *testing.T) {
	page := safetyPage(t)
	if n := strings.Count(strings.Join(strings.Fields(page), " "), "not heating; still live: isolate before opening or reaching in"); n < 2 {
		t.Errorf("the page says %d times that the kettle is still live", n)
	}
	bad := regexp.MustCompile(`(?i)(kettle|element|it) is (switched )?off|turn(ed)? off|safe to (touch|open)`)
	if at := bad.FindString(page); at != "" {
		t.Errorf("the page says %q", at)
	}
}
