package page

import (
	"context"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/rehearse"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller/record"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/profile/strict"
	"mashward/sim"
)

// past leaves the record of a rehearsed day in the folder.
func (b *bench) past(id, text string) {
	b.t.Helper()
	p, faults := profile.Parse("day.yaml", []byte(text))
	if strict.Refused(faults) {
		b.t.Fatal(faults)
	}
	rigText := read(b.t, "rigs/yard-kettle.yaml")
	rig, _ := config.ParseRig("rig.yaml", []byte(rigText))
	d, _ := plan.Make(p, rig.PlanKettle())
	run := rehearse.On(rig, p, d, &rehearse.Simulated{Bench: sim.NewBench(sim.New(rig.Plant(), config.Load(p), 1), nil, 1)})
	storage := &record.Memory{}
	recorder, err := run.Record(storage, record.Head{Program: "test", Simulated: true, Profile: p.Name, ProfileText: text, RigText: rigText, Began: "2026-01-10T08:00:00Z"})
	if err != nil {
		b.t.Fatal(err)
	}
	if _, err := run.Go(); err != nil {
		b.t.Fatal(err)
	}
	recorder.End()
	if err := recorder.Close(context.Background()); err != nil {
		b.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(b.records, id+daemon.RecordSuffix), storage.Bytes, 0o600); err != nil {
		b.t.Fatal(err)
	}
}

// twoDays are a day and the same one changed, with markup for a name.
func (b *bench) twoDays() (address string) {
	sample := read(b.t, "profiles/rye-four-rests.yaml")
	b.past("20260110-080000-a", sample)
	b.past("20260117-080000-b", strings.NewReplacer("profile: Rye, four rests", "profile: \""+hostile+"\"", "rest: 71 °C", "rest: 70 °C").Replace(sample))
	return "/records/compare?a=20260110-080000-a&b=20260117-080000-b"
}

func TestTwoPastBatchesAreChosenAndComparedWithoutAScript(t *testing.T) {
	b := newBench(t)
	_, page := b.get("/records")
	lacks(t, page, `action="/records/compare"`) // nothing to choose from
	address := b.twoDays()
	_, page = b.get("/records")
	holds(t, page, `<form class="statements" method="get" action="/records/compare"`, `<option value="20260110-080000-a"`, `<option value="20260117-080000-b"`,
		`href="/api/v1/records/20260117-080000-b/report.html"`, `href="/api/v1/records/20260117-080000-b/bundle.tar"`)
	code, page := b.get(address)
	if code != http.StatusOK {
		t.Fatal(code, page)
	}
	holds(t, page, "profile: step 3, rest: temperature", ">71 °C<", ">70 °C<", "rest 71.0 °C / rest 70.0 °C", "The mash was, by window", "energy, kWh", stopForm)
	lacks(t, page, "<script>document", "<img src=x", "style=", "<style")
	// The same in the viewer's scale: 71 °C is 159.8 °F, by 1.8 and 32.
	_, page = b.get(address, &http.Cookie{Name: scaleCookie, Value: "F"})
	holds(t, page, ">160 °F<", ">158 °F<", "rest 159.8 °F / rest 158.0 °F", "131 °F to 136 °F", "too hot by, °F")
	_, page, _ = strings.Cut(page, "<main>")
	lacks(t, page, "°C")
}

func TestWhatCannotBeComparedIsRefused(t *testing.T) {
	b := newBench(t)
	b.twoDays()
	if err := os.WriteFile(filepath.Join(b.records, "20260118-080000-c.batch"), []byte("no record"), 0o600); err != nil {
		t.Fatal(err)
	}
	for query, want := range map[string]int{
		"": 400, "?a=20260110-080000-a": 400, "?a=20260110-080000-a&b=nowhere": 404, "?a=../x&b=20260110-080000-a": 404,
		"?a=20260110-080000-a&b=..%2F20260110-080000-a": 404, "?a=20260110-080000-a&b=20260118-080000-c": 500,
	} {
		code, page := b.get("/records/compare" + query)
		if code != want {
			t.Errorf("%q: %d, want %d", query, code, want)
		}
		holds(t, page, stopForm)
	}
}

func TestAComparisonFitsBothWidths(t *testing.T) {
	b := newBench(t)
	address := b.twoDays()
	server := b.listen("")
	t.Cleanup(func() { shut(server) })
	tab := newBrowser(t)
	for _, path := range []string{address, "/records"} {
		for _, width := range []int64{360, 1280} {
			tab.do(chromedp.EmulateViewport(width, 800), chromedp.Navigate(server.URL+path))
			tab.fits()
			if what := ask[string](tab, small); what != "" {
				t.Errorf("%s at %d px:\n%s", path, width, what)
			}
		}
	}
	tab.do(chromedp.Navigate(server.URL + "/records"))
	tab.click(`form[action="/records/compare"] button`)
	tab.becomes("document.querySelector('h1').textContent === 'Two batches'")
	tab.fits()
}
