package strict_test

import (
	"strings"
	"testing"
	"time"

	"mashward/profile/strict"
)

// TestNoFileWithinTheLimitKeepsTheParserBusy has the shapes that make YAML
// parsers slow; a small board must not lose a minute to one.
func TestNoFileWithinTheLimitKeepsTheParserBusy(t *testing.T) {
	fill := func(s string) string { return strings.Repeat(s, strict.MaxBytes/len(s)) }
	for name, text := range map[string]string{
		"open lists": fill("["), "open mappings": fill("{a: "), "dashes": fill("- "), "questions": fill("? "),
		"keys": fill("a: 1\n"), "items": "a:\n" + fill("- b\n")[:strict.MaxBytes-4], "one line": "a: " + fill("x")[:strict.MaxBytes-3],
		"quotes": fill("\"a\","), "colons": fill("a:"), "comments": fill("#\n"), "flow": "[" + fill("a,")[:strict.MaxBytes-2] + "]",
		"flow keys": "{" + fill("a,")[:strict.MaxBytes-2] + "}", "bars": fill("|\n"), "anchors": fill("&a "), "tabs": fill("\t\n"),
		"flow questions": "[" + fill("? ")[:strict.MaxBytes-2], "nested quotes": fill("'"), "bad bytes": fill("\xff\n"),
	} {
		begin := time.Now()
		doc := strict.Parse("f", []byte(text))
		doc.Map(strict.Keys{"a"}).List("a")
		doc.Faults()
		if took := time.Since(begin); took > 5*time.Second {
			t.Errorf("%s: %v", name, took)
		}
	}
}
