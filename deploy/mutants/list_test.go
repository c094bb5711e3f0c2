package main

import (
	"errors"
	"os"
	"strings"
	"testing"
)

// TestTheListFollowsTheCode: 40 mutants, each of lines that stand in its file once.
func TestTheListFollowsTheCode(t *testing.T) {
	text, err := os.ReadFile("list.txt")
	if err != nil {
		t.Fatal(err)
	}
	all, err := parse(string(text))
	if err != nil {
		t.Fatal(err)
	}
	if len(all) != 43 {
		t.Errorf("%d mutants, want 43", len(all))
	}
	t.Chdir("../..")
	for _, m := range all {
		if strings.HasSuffix(m.file, "_test.go") {
			t.Errorf("line %d: a broken test catches itself", m.line)
		}
		if _, err := m.apply(); err != nil {
			t.Error(err)
		}
	}
}

func TestAListThatSaysTooLittleIsRefused(t *testing.T) {
	const good = "mutant a\nfile list.go\n- package main\n+ package mine\ntest .\n"
	if all, err := parse("# why\n\n" + good); err != nil || len(all) != 1 || all[0].old != "package main\n" {
		t.Fatalf("%+v, %v", all, err)
	}
	for _, bad := range []string{
		"", "file list.go\n", good + good, strings.Replace(good, "test .", "", 1), strings.Replace(good, "mine", "main", 1), good + "tset .\n",
	} {
		if _, err := parse(bad); err == nil {
			t.Errorf("taken:\n%s", bad)
		}
	}
	for _, old := range []string{"package nothing\n", "}\n"} { // never, and often
		if _, err := (&mutant{file: "list.go", old: old}).apply(); err == nil {
			t.Errorf("%q was applied", old)
		}
	}
}

// What go test says, in its own words (Go 1.26).
func TestOnlyAFailingTestCatches(t *testing.T) {
	failed := errors.New("exit status 1")
	for said, want := range map[string]end{
		"--- FAIL: TestIt (0.00s)\n    a_test.go:1: no\nFAIL\nFAIL\tmashward/a\t0.1s\n":                 {how: caught, by: "TestIt"},
		"panic: test timed out after 1s\n\trunning tests:\n\t\tTestIt (1s)\n\nFAIL\tmashward/a\t1.0s\n": {how: caught, by: "TestIt"},
		"# mashward/a\n./a.go:1: undefined: b\nFAIL\tmashward/a [build failed]\nFAIL\n":                 {how: broken},
		"FAIL\tmashward/b [build failed]\n--- FAIL: TestIt (0.00s)\nFAIL\tmashward/a\t0.1s\n":           {how: broken},
		"open overlay: no such file\n": {how: broken},
	} {
		if got := judge([]byte(said), failed); got.how != want.how || got.by != want.by {
			t.Errorf("%q: %s by %q, want %s by %q", said, got.how, got.by, want.how, want.by)
		}
	}
	if got := judge([]byte("ok\n"), nil); got.how != survived {
		t.Errorf("tests that pass: %s", got.how)
	}
	if _, err := choose([]mutant{{name: "a"}}, "3/2", ""); err == nil {
		t.Error("the 3rd of two was chosen")
	}
}
