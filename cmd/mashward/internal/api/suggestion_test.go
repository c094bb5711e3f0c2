package api

import (
	"encoding/json"
	"testing"

	"mashward/cmd/internal/suggest"
	"mashward/cmd/mashward/internal/view"
)

// A batch with a suggestion is as the document has it, and so is one without.
func TestABatchWithASuggestionIsAsPromised(t *testing.T) {
	batch := view.Batch{ID: "20260102-030405-0123ab", Armed: "2026-01-02T03:04:05Z", State: "complete", Reason: "none", Advice: []string{"a"}}
	for _, told := range []*suggest.Told{nil, {Text: "a", Command: "b", Figures: []string{"power", "loss", "lag"}, Power: 0.85, Loss: 8, Lag: 20}} {
		batch.Suggestion = told
		text, err := json.Marshal(batch)
		if err != nil {
			t.Fatal(err)
		}
		if err := promised.fits(text, "components", "schemas", "Batch"); err != nil {
			t.Errorf("%s: %v", text, err)
		}
	}
	batch.Suggestion = &suggest.Told{Text: "a", Command: "b", Figures: []string{"colour"}, Power: 0.85}
	text, err := json.Marshal(batch)
	if err != nil {
		t.Fatal(err)
	}
	if promised.fits(text, "components", "schemas", "Batch") == nil {
		t.Errorf("the document promises nothing: %s fits", text)
	}
}
