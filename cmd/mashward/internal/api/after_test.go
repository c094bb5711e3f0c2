package api

import (
	"bytes"
	"net/http"
	"strings"
	"testing"

	"mashward/cmd/internal/account"
	"mashward/cmd/internal/bundle"
	"mashward/cmd/mashward/internal/daemon"
)

// sawWhatIsMadeOfIt looks at report, bundle and comparison of a finished day.
func (b *bench) sawWhatIsMadeOfIt(id string) {
	b.Helper()
	r := into[Record](b, b.get("records/"+id))
	if r.Planned == nil || r.Energy.Joules <= 0 || r.Energy.Planned == nil || len(r.Windows) == 0 || len(r.Waits) < 7 || r.Across.WaterToGrain == nil || r.Hash == "" {
		b.Errorf("%+v", r.Account)
	}
	page := b.get("records/" + id + "/report.html")
	if policy := page.Header().Get("Content-Security-Policy"); !strings.Contains(policy, "sandbox") || !strings.Contains(policy, "default-src 'none'") {
		b.Errorf("a report with the policy %q", policy)
	}
	for _, want := range []string{"<h1>A short day</h1>", "Plan and day", "Where the mash was", "SHA-256"} {
		if !strings.Contains(page.Body.String(), want) {
			b.Errorf("the report lacks %q", want)
		}
	}
	packed := b.get("records/" + id + "/bundle.tar")
	back, err := bundle.Read(bytes.NewReader(packed.Body.Bytes()))
	if err != nil {
		b.Fatal(err)
	}
	again, err := account.Read(back)
	if err != nil || again.Ticks != r.Ticks || again.Energy.Joules != r.Energy.Joules {
		b.Errorf("%v: %d ticks of %d", err, again.Ticks, r.Ticks)
	}
	if bytes.Contains(packed.Body.Bytes(), []byte("Test kettle")) {
		b.Error("the bundle names the rig")
	}
	both := into[account.Comparison](b, b.get("records/compare?a="+id+"&b="+id))
	if len(both.Changed) != 0 || len(both.Steps) != len(r.Steps) || len(both.Windows) != len(r.Windows) {
		b.Errorf("%+v", both)
	}
	no(b, b.get("records/compare?a="+id), http.StatusBadRequest, "bad-request")
	no(b, b.get("records/compare?a="+id+"&b=nowhere"), http.StatusNotFound, "no-such-record")
}

// The command's JSON is the account of the interface, which the document describes:
// cmd/mashward holds it to the same schema.
func TestTheDocumentDescribesAnAccount(t *testing.T) {
	if err := promised.fits([]byte(`{"began": ""}`), "components", "schemas", "Account"); err == nil {
		t.Error("an account without figures fits")
	}
}

// A batch that was cut off and went on is one batch: its steps, its energy and its
// waits go over the gap, and the time away heats nothing.
func TestABatchThatWentOnIsOneBatchInItsAccount(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		b.run("warm")
		id := b.state().Batch.ID
		b.until("heat", func(s *daemon.Snapshot) bool { return s.Decision.Clock.Minutes() > 1 })
		b.again()
		b.post("go-on", toGoOn(id, 25), 200)
		b.until("end", func(s *daemon.Snapshot) bool { return s.Decision.Mode.Ended() })
		b.end()
		r := into[Record](b, b.get("records/"+id))
		if r.Outcome != "complete" || len(r.Steps) != 1 || r.Steps[0].Reached == nil || r.Steps[0].Earned != 120 {
			b.Errorf("%s, %+v", r.Outcome, r.Steps)
		}
		// 25 L and 4.1 kJ/K by 8 K, twice begun at most: the kettle is new after a restart.
		const once = (25*4182 + 4100) * 8.0
		if j := r.Energy.Joules; j < once || j > 2*once {
			b.Errorf("%.0f J, once it takes %.0f J", j, once)
		}
		if len(r.Waits) != 1 || r.Waits[0].Prompt != "go-on-or-end" || r.Waits[0].Seconds > r.Duration {
			b.Errorf("%+v", r.Waits)
		}
		told := false
		for _, s := range r.Told {
			told = told || strings.HasPrefix(s.Text, "take-up")
		}
		if !told {
			b.Errorf("nobody took it up: %+v", r.Told)
		}
		if page := b.get("records/" + id + "/report.html").Body.String(); !strings.Contains(page, "gone on after a restart") || strings.Contains(page, "computer started as") {
			b.Error("the report does not say that it went on, or tells of the board")
		}
	})
}
