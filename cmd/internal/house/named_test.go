package house

import (
	"go/ast"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// A page that names a test as its proof must not outlive it.
func TestEveryTestThatAPageNamesIsThere(t *testing.T) {
	there := map[string]bool{}
	for _, s := range house(t) {
		for _, d := range s.file.Decls {
			if f, ok := d.(*ast.FuncDecl); ok && s.test {
				there[f.Name.Name] = true
			}
		}
	}
	named := 0
	for _, page := range []string{"SAFETY.md", "DEVELOPERS.md", "README.md"} {
		text, err := os.ReadFile(filepath.Join(top, page))
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range regexp.MustCompile("`((?:Test|Fuzz)[A-Za-z0-9_]+)`").FindAllStringSubmatch(string(text), -1) {
			named++
			if !there[m[1]] {
				t.Errorf("%s names %s, which is not there", page, m[1])
			}
		}
	}
	if named < 60 {
		t.Errorf("only %d names were found", named)
	}
}

// Every line of the table of the network has a test, a place in the code, or says
// that it is not here.
func TestEveryLineOfTheNetworkTableIsShownOrSaidNotToBeHere(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(top, "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	lines := regexp.MustCompile(`(?m)^\| N(\d+) \|[^|]+\|([^|]+)\|$`).FindAllStringSubmatch(string(text), -1)
	if len(lines) != 24 {
		t.Errorf("%d lines", len(lines))
	}
	for i, m := range lines {
		if !strings.Contains(m[2], "`Test") && !strings.Contains(m[2], "`Fuzz") && !strings.Contains(m[2], "not here") {
			t.Errorf("line %d, N%s: neither shown nor said not to be here", i+1, m[1])
		}
	}
}
