package report

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"mashward/cmd/internal/account"
	"mashward/cmd/internal/ahead"
	"mashward/cmd/internal/config"
	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/say"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/controller/record"
	"mashward/profile/plan"
	"mashward/profile/strict"
	"mashward/sim"
	"mashward/sim/fault"
)

const samples = "../../../testdata"

// brewed is a rehearsal of a sample, with what the report is made from.
type brewed struct {
	Report
	diary   *Diary
	power   float64 // of the plant, W
	storage *record.Memory
}

// rehearsed runs a sample profile on a sample rig, with faults.
func rehearsed(t testing.TB, profileName, rigName, faults string, delay time.Duration) brewed {
	t.Helper()
	path := filepath.Join(samples, "profiles", profileName)
	p, _, err := config.LoadProfile(path)
	if err != nil {
		t.Fatal(err)
	}
	rig, _, err := config.LoadRig(filepath.Join(samples, "rigs", rigName))
	if err != nil {
		t.Fatal(err)
	}
	var script fault.Script
	if faults != "" {
		var wrong []strict.Fault
		if script, wrong = fault.Parse("faults.yaml", []byte(faults)); len(wrong) > 0 {
			t.Fatal(wrong)
		}
	}
	d, problems := plan.Make(p, rig.PlanKettle())
	if plan.Refused(problems) {
		t.Fatal(problems)
	}
	injector := fault.New(script, rehearse.FromStart(p)...)
	bench := sim.NewBench(sim.New(rig.Plant(), config.Load(p), 1), injector, 1)
	diary := &Diary{Words: say.Day{Profile: p, Config: rehearse.Core(p, d)}}
	run := rehearse.Run{Profile: p, Plan: d, Kettle: &rehearse.Simulated{Bench: bench, Faults: injector}, Delay: delay}
	tally := &account.Tally{Energy: run.Kettle.Energy}
	run.Watchers = append(run.Watchers, diary, tally)
	text, rigText := fileOf(t, path), fileOf(t, rig.File)
	storage := &record.Memory{}
	recorder, err := run.Record(storage, record.Head{Program: "test", Simulated: true, Profile: p.Name, ProfileText: text, RigText: rigText})
	if err != nil {
		t.Fatal(err)
	}
	run.Watchers = append(run.Watchers, &ahead.Keeper{Day: ahead.Day{Config: rehearse.Core(p, d), Plan: d, Pour: delay}, Keep: recorder.Forecast})
	result, err := run.Go()
	if err != nil {
		t.Fatal(err)
	}
	recorder.End()
	a, err := account.ReadWith(storage, tally)
	if err != nil {
		t.Fatal(err)
	}
	return brewed{
		Report{Plan: d, Day: diary.Day(d), Result: result, Profile: text, Account: &a, Origins: []string{"Seed of chance: 1"}},
		diary, float64(rig.Plant().Element.Power), storage,
	}
}

func fileOf(t testing.TB, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// faulty takes the lid off for a while and the probe away twice, so that the day
// is held by a trip.
const faulty = "faults:\n  - {at: 42 min, fault: lid-off, for: 10 min}\n" +
	"  - {at: 60 min, fault: probe-open, for: 20 s}\n  - {at: 100 min, fault: probe-open}\n"

func written(t testing.TB, r Report) string {
	t.Helper()
	var b bytes.Buffer
	if err := HTML(&b, r); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// days are rehearsals of all kinds: good, without a lift, without grain, with
// a slow person, and one that ends in a fault.
func days(testing.TB) map[string]brewed { return brewedDays() }

// brewedDays are shared by the tests that only look at them.
var brewedDays = sync.OnceValue(func() map[string]brewed {
	t := &once{}
	all := map[string]brewed{
		"sample":  rehearsed(t, "rye-four-rests.yaml", "yard-kettle.yaml", "", 0),
		"stand":   rehearsed(t, "one-rest.yaml", "yard-kettle.yaml", "", 5*time.Minute),
		"no lift": rehearsed(t, "congress-45-70.yaml", "yard-kettle.yaml", "", 0),
		"water":   rehearsed(t, "water-only.yaml", "yard-kettle.yaml", "", 0),
		"no pump": rehearsed(t, "small-batch.yaml", "small-pot.yaml", "", 0),
		"faulty":  rehearsed(t, "rye-four-rests.yaml", "yard-kettle.yaml", faulty, 0),
	}
	for name, of := range map[string]string{"sample's record": "sample", "faulty's record": "faulty"} {
		d := all[of]
		r, err := FromRecord(d.storage, config.Tariff{})
		if err != nil {
			t.Fatal(err)
		}
		d.Report = r
		all[name] = d
	}
	return all
})

// once fails by panic: who runs it first may not be who wants it.
type once struct{ testing.TB }

func (*once) Helper()           {}
func (*once) Fatal(args ...any) { panic(fmt.Sprint(args...)) }

// tag is one element of a page.
type tag struct {
	name, text string
	attributes map[string]string
}

// tags reads a page with the standard library's XML reader, strictly: what is
// opened must be closed, but for HTML's one void element that is used.
func tags(t testing.TB, page string) []tag {
	t.Helper()
	var all []tag
	var open []int
	page = regexp.MustCompile(`<meta [^>]*`).ReplaceAllString(page, "$0/")
	d := xml.NewDecoder(strings.NewReader(page))
	d.Entity = xml.HTMLEntity
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			if len(open) > 0 {
				t.Fatalf("<%s> is not closed", all[open[0]].name)
			}
			return all
		}
		if err != nil {
			t.Fatal(err)
		}
		switch token := token.(type) {
		case xml.StartElement:
			e := tag{name: token.Name.Local, attributes: map[string]string{}}
			for _, a := range token.Attr {
				e.attributes[a.Name.Local] = a.Value
			}
			open, all = append(open, len(all)), append(all, e)
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			for _, i := range open {
				all[i].text += string(token)
			}
		}
	}
}

func named(all []tag, name string) (out []tag) {
	for _, e := range all {
		if e.name == name {
			out = append(out, e)
		}
	}
	return out
}

func TestThePageNeedsNothingButItself(t *testing.T) {
	for name, d := range days(t) {
		page := written(t, d.Report)
		for _, banned := range []string{"http:", "https:", "//", "src=", "href=", "<script", "javascript", "@import", "@font-face", "<link", "<iframe", "<img", "data:"} {
			if at := strings.Index(page, banned); at >= 0 {
				t.Errorf("%s: the page holds %q: %.80s", name, banned, page[at:])
			}
		}
		if found := regexp.MustCompile(`(?i)<[^>]*\son[a-z]+\s*=`).FindString(page); found != "" {
			t.Errorf("%s: a handler: %s", name, found)
		}
		for _, address := range regexp.MustCompile(`url\([^)]*\)`).FindAllString(page, -1) {
			if !strings.HasPrefix(address, "url(#") {
				t.Errorf("%s: %s", name, address)
			}
		}
		if len(page) > 120_000 {
			t.Errorf("%s: %d bytes", name, len(page))
		}
	}
}

func TestThePageIsWellFormedAndEveryReferenceIsThere(t *testing.T) {
	for name, d := range days(t) {
		all := tags(t, written(t, d.Report))
		ids := map[string]int{}
		for _, e := range all {
			if id := e.attributes["id"]; id != "" {
				ids[id]++
			}
		}
		for id, n := range ids {
			if n > 1 {
				t.Errorf("%s: id %q stands %d times", name, id, n)
			}
		}
		for _, e := range all {
			for _, ref := range []string{
				e.attributes["aria-labelledby"], e.attributes["aria-describedby"],
				strings.TrimSuffix(strings.TrimPrefix(e.attributes["fill"], "url(#"), ")"),
			} {
				if ref != "" && ids[ref] == 0 {
					t.Errorf("%s: <%s> refers to %q, which is not there", name, e.name, ref)
				}
			}
		}
	}
}

func TestThePageCanBeReadAloud(t *testing.T) {
	for name, d := range days(t) {
		all := tags(t, written(t, d.Report))
		if all[0].name != "html" || all[0].attributes["lang"] != "en" {
			t.Errorf("%s: no language", name)
		}
		if n := len(named(all, "h1")); n != 1 {
			t.Errorf("%s: %d main headings", name, n)
		}
		last := 0
		for _, e := range all {
			if len(e.name) == 2 && e.name[0] == 'h' && e.name[1] >= '1' && e.name[1] <= '6' {
				if level := int(e.name[1] - '0'); level > last+1 {
					t.Errorf("%s: heading %q is of level %d after %d", name, e.text, level, last)
				} else {
					last = level
				}
			}
		}
		for _, e := range named(all, "th") {
			if e.attributes["scope"] == "" {
				t.Errorf("%s: heading %q of a table without a scope", name, e.text)
			}
		}
		if captions := len(named(all, "caption")); captions != len(named(all, "table")) || captions == 0 {
			t.Errorf("%s: %d captions for %d tables", name, captions, len(named(all, "table")))
		}
		for _, e := range named(all, "svg") {
			if e.attributes["role"] != "img" && e.attributes["aria-hidden"] != "true" {
				t.Errorf("%s: a picture that is neither told nor skipped", name)
			}
		}
	}
}

func TestSimulatedCannotBeOverlooked(t *testing.T) {
	d := rehearsed(t, "water-only.yaml", "yard-kettle.yaml", "", 0)
	all := tags(t, written(t, d.Report))
	if title := named(all, "title")[0].text; !strings.HasPrefix(title, "SIMULATED") {
		t.Errorf("title %q", title)
	}
	if first := named(all, "p")[0].text; !strings.HasPrefix(first, "SIMULATED") || !strings.Contains(first, "Nothing was heated") {
		t.Errorf("the first sentence is %q", first)
	}
	pictures := 0
	for _, e := range named(all, "svg") {
		if e.attributes["role"] != "img" {
			continue
		}
		pictures++
		if !strings.Contains(e.text, "simulated") || !strings.Contains(e.text, "Simulated: no kettle was heated.") {
			t.Errorf("a picture does not say it: %.200s", e.text)
		}
	}
	if pictures != 4 {
		t.Errorf("%d pictures, want strip and chart for two widths", pictures)
	}
	d.Result.Simulated, d.Day.Simulated = false, false
	if page := written(t, d.Report); strings.Contains(page, "SIMULATED") || strings.Contains(page, ">simulated<") || strings.Contains(page, "simulated kettle") {
		t.Error("a real batch is called simulated")
	}
}

func TestHostileTextStaysText(t *testing.T) {
	evil := `<script>alert("x")</script><img src=x onerror=alert(1)>'"]]>--><!-- {{.}}`
	d := rehearsed(t, "rye-four-rests.yaml", "yard-kettle.yaml", faulty, 0)
	d.Plan.Profile, d.Profile, d.Day.Name = evil, evil+"\n</pre>", evil
	d.Origins, d.Plan.Cautions = []string{evil}, []string{evil}
	d.Result.Reason = evil
	for i := range d.Result.Steps {
		d.Result.Steps[i].Name = evil
	}
	for i := range d.Day.Marks {
		d.Day.Marks[i].Text = evil
	}
	for i := range d.Day.Plan {
		d.Day.Plan[i].Title = evil
	}
	d.Result.Trips = append(d.Result.Trips, rehearse.Instant{ID: evil})
	d.Result.Alarms = append(d.Result.Alarms, rehearse.Alarm{ID: evil})
	a := d.Account
	a.Program, a.Text, a.Began, a.Damage = evil, evil, evil, &evil
	a.Told, a.Lines = []account.Said{{Text: evil}}, []account.Line{{Kind: "note", Text: evil}}
	a.Energy.Cost = &account.Cost{Currency: evil}
	for i := range a.Steps {
		a.Steps[i].Name, a.Steps[i].Kind = evil, evil
	}
	page := written(t, d.Report)
	for _, e := range tags(t, page) {
		if e.name == "script" || e.name == "img" || e.attributes["onerror"] != "" {
			t.Fatalf("<%s> got through", e.name)
		}
	}
	if strings.Contains(page, "<script") || strings.Contains(page, "<img") {
		t.Error("markup got through")
	}
	if named(tags(t, page), "h1")[0].text != evil {
		t.Errorf("the name is not shown as it was written: %q", named(tags(t, page), "h1")[0].text)
	}
}

// The table against the result it was made from, figure by figure.
func TestTheTableHasTheResultsFigures(t *testing.T) {
	for name, d := range days(t) {
		page := written(t, d.Report)
		_, body, _ := strings.Cut(page, "<tbody>")
		body, _, _ = strings.Cut(body, "</tbody>")
		rows := strings.Split(strings.TrimSpace(body), "<tr>")[1:]
		if len(rows) != len(d.Result.Steps) {
			t.Fatalf("%s: %d rows for %d steps", name, len(rows), len(d.Result.Steps))
		}
		for i, s := range d.Result.Steps {
			want := []string{fmt.Sprintf("%d %s", s.Index, map[bool]string{true: "hop stand", false: s.Kind}[s.Kind == "stand"])}
			if s.Reached != nil && s.Target != nil {
				want = append(want, fmt.Sprintf("<td>%d:%02d</td>", int(*s.Reached)/60, int(*s.Reached)%60))
			}
			if s.Overshoot != nil {
				want = append(want, fmt.Sprintf("<td>%.2f</td>", *s.Overshoot))
			}
			if s.HoldWorst != nil {
				want = append(want, fmt.Sprintf("<td>%.2f</td>", *s.HoldWorst))
			}
			for _, w := range want {
				if !strings.Contains(rows[i], w) {
					t.Errorf("%s: row %d lacks %q: %s", name, i, w, rows[i])
				}
			}
		}
	}
}

func TestWhatWentWrongIsToldInSentences(t *testing.T) {
	d := rehearsed(t, "rye-four-rests.yaml", "yard-kettle.yaml", faulty, 0)
	r := d.Result
	if len(r.Trips) == 0 || len(r.Cuts) == 0 || len(r.Alarms) == 0 {
		t.Fatalf("the faults must make a trip, a cut and an alarm: %+v", r)
	}
	told := troubles(r)
	if len(told) != len(r.Trips)+len(r.Cuts)+len(r.Alarms) {
		t.Errorf("%d troubles told", len(told))
	}
	for i := 1; i < len(told); i++ {
		if told[i].seconds < told[i-1].seconds {
			t.Errorf("%s is told after %s", told[i].At, told[i-1].At)
		}
	}
	page := written(t, d.Report)
	for _, want := range []string{
		"Not finished: held with the heat off", "Heat was cut for good: the probe gave no good reading",
		"Heat was cut for ", "Alarm for ", "the probe gives no good reading", "Heat cut, and it stays off until a person has looked",
	} {
		if !strings.Contains(strings.ReplaceAll(page, "\u00a0", " "), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	good := written(t, rehearsed(t, "rye-four-rests.yaml", "yard-kettle.yaml", "", 0).Report)
	if !strings.Contains(good, "Nothing: no heat was cut and no alarm was raised.") || !strings.Contains(good, "Finished after") {
		t.Error("a good day is not told as one")
	}
}

func TestEveryRuleAndEveryAlarmHasWords(t *testing.T) {
	for _, r := range interlock.Rules() {
		if Because(r.String()) == r.String() {
			t.Errorf("no words for %s", r)
		}
	}
	if len(because) != len(interlock.Rules()) {
		t.Errorf("%d sentences for %d rules", len(because), len(interlock.Rules()))
	}
	for a := range controller.Alarm(controller.AlarmCount) {
		if alarm(a.String()) == a.String() {
			t.Errorf("no words for %s", a)
		}
	}
}

func TestTheSameDayMakesTheSamePage(t *testing.T) {
	one := written(t, rehearsed(t, "rye-four-rests.yaml", "yard-kettle.yaml", faulty, 0).Report)
	other := written(t, rehearsed(t, "rye-four-rests.yaml", "yard-kettle.yaml", faulty, 0).Report)
	if one != other {
		t.Error("two runs of one seed differ")
	}
}

func TestHowLateIsSaidInTheFirstSentence(t *testing.T) {
	p := plan.Plan{Finish: 4 * time.Hour}
	for seconds, want := range map[float64]string{
		4 * 3600: "as planned", 4*3600 + 59: "as planned",
		4*3600 + 25*60: "25 min later than planned", 3*3600 + 1800: "30 min earlier than planned",
	} {
		got := strings.ReplaceAll(summary(rehearse.Result{Outcome: "complete", Duration: seconds}, p), "\u00a0", " ")
		if !strings.Contains(got, want) {
			t.Errorf("%g s: %q lacks %q", seconds, got, want)
		}
	}
}
