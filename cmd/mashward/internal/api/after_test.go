package api

import (
	"bytes"
	"net/http"
	"strings"
	"testing"

	"mashward/cmd/internal/account"
	"mashward/cmd/internal/bundle"
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
