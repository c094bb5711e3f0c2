package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// every is each path of the site, by all the sources of the program and the document
// themselves: a route that is added is attacked too, wherever it is registered.
func every(t *testing.T) []string {
	t.Helper()
	var all []string
	registered := regexp.MustCompile(`\.Handle(?:Func)?\("(?:[A-Z]+ )?([^"]+)"`)
	err := filepath.WalkDir(".", func(path string, _ os.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		for _, m := range registered.FindAllStringSubmatch(string(text), -1) {
			all = append(all, m[1])
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile("internal/api/openapi.json")
	if err != nil {
		t.Fatal(err)
	}
	var document struct{ Paths map[string]any }
	if err := json.Unmarshal(text, &document); err != nil {
		t.Fatal(err)
	}
	for p := range document.Paths {
		all = append(all, p)
	}
	if slices.Sort(all); len(all) < 50 {
		t.Fatalf("only %d paths are found", len(all))
	}
	return append(slices.Compact(all), "//stop", "/stop/", "/static/../api/v1/start", "/api/v1/../v1/start", "/%2e%2e/do", "/debug/pprof/", "/.git/config", "/phones/../do")
}
