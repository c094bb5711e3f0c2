package api

import (
	"net/http"
	"strings"
	"testing"
)

// TestABrokenExpectationIsArmedByAnOverride: the answers of rehearsal, arming and
// record are held to the document by the bench.
func TestABrokenExpectationIsArmedByAnOverride(t *testing.T) {
	files := map[string]string{"late": warm + "expect:\n  - {step: 1, never_above: 24 °C}\n  - {done_within: 3 min}\n"}
	inBubble(t, settings{files: files}, func(b *bench) {
		r := into[Rehearsed](b, b.post("rehearsal", `{"profile": "late"}`, 200))
		if r.Passed || r.Result.Outcome != "complete" || len(r.Result.Expectations) != 2 || !r.Result.Expectations[0].Kept || r.Result.Expectations[1].Kept {
			b.Fatalf("%+v", r)
		}
		say := toArm("late", r.Hash, 25)
		p := no(b, b.ask("POST", "arm", say), http.StatusConflict, "expectation-broken")
		if !strings.Contains(p.Detail, "done within 3 min: took 0:") || !strings.Contains(p.Detail, "override_expectations") {
			b.Error(p.Detail)
		}
		with := func(value string) string {
			return strings.TrimSuffix(say, "}") + `, "override_expectations": ` + value + `}`
		}
		no(b, b.ask("POST", "arm", with("false")), http.StatusConflict, "expectation-broken")
		no(b, b.ask("POST", "arm", with(`"yes"`)), http.StatusBadRequest, "bad-request")
		armed := into[Armed](b, b.post("arm", with("true"), 200))
		started := into[Started](b, b.post("start", `{"nonce": "`+armed.Nonce+`"}`, 200))
		pass(takenWithin)
		record := into[Record](b, b.get("records/"+started.Batch))
		told := false
		for _, l := range record.Lines {
			told = told || l.Kind == "note" && strings.HasPrefix(l.Text, "Armed all the same, although its rehearsal broke a promise: done within 3 min")
		}
		if !told {
			b.Errorf("the record does not tell: %+v", record.Lines)
		}
	})
}
