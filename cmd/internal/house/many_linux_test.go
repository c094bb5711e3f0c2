package house

import (
	"encoding/json"
	"flag"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

// Many kettles on one Prometheus. It is not part of the checks: deploy/prometheus-many.sh
// runs it.
var (
	manyKettles = flag.Int("kettles", 0, "so many daemons on one Prometheus")
	manyFor     = flag.Duration("for", 2*time.Minute, "how long they are looked at")
)

// TestScenarioManyKettlesOnOnePrometheus serves that many simulated kettles, each a process
// with a batch that heats, has one Prometheus look at all of them every five seconds (three
// times as often as the example), with the shipped rules, and prints what it took.
func TestScenarioManyKettlesOnOnePrometheus(t *testing.T) {
	if *manyKettles == 0 {
		t.Skip("deploy/prometheus-many.sh runs this")
	}
	rig, err := os.ReadFile(filepath.Join(top, "testdata/rigs/yard-kettle.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	p := build(t)
	var all []*daemon
	var addresses []string
	for i := range *manyKettles {
		p := p.in(t)
		p.write("rig.yaml", strings.Replace(string(rig), "rig: Yard kettle", fmt.Sprintf("rig: Kettle %02d", i+1), 1))
		p.write("day.yaml", bigProfile)
		d := p.start(nil, "--simulate")
		d.ready()
		d.begin(25)
		all, addresses = append(all, d), append(addresses, d.address)
	}
	w := prometheus(t, "5s", "localhost:9", addresses...)
	looked := time.NewTimer(*manyFor)
	all[0].until(*manyFor, "not every kettle is seen", func() bool {
		return w.figure(`count(count by (rig) (mashward_element_on_seconds_total))`) == float64(len(all))
	})
	<-looked.C

	if up := w.figure(`count(up{job="mashward"} == 1)`); up != float64(len(all)) {
		t.Errorf("%g of %d kettles answer", up, len(all))
	}
	if running := w.figure(`count(mashward_batch_state{state="running"} == 1)`); running != float64(len(all)) {
		t.Errorf("a batch runs on %g of %d kettles", running, len(all))
	}
	if firing := w.ask(`ALERTS{alertstate="firing",severity="now"}`); len(firing) > 0 {
		t.Errorf("told of what is none: %v", firing)
	}
	for _, a := range w.ask(`ALERTS{alertstate="firing",severity!="now"}`) { // a machine that is too busy is told of
		t.Logf("%s of %s", a.Metric["alertname"], a.Metric["rig"])
	}
	median, longest := w.figure("quantile(0.5, scrape_duration_seconds)"), w.figure("max(max_over_time(scrape_duration_seconds[10m]))")
	if !(longest < 1) {
		t.Errorf("a scrape took %g s", longest)
	}
	daemons := 0
	for _, d := range all {
		daemons += resident(t, d.cmd.Process.Pid)
	}
	ticks, late := w.figure("sum(mashward_control_loop_lateness_seconds_count)"), w.figure(`sum(mashward_control_loop_lateness_seconds_bucket{le="0.1"})`)
	t.Logf("%d kettles, every 5 s for %v: a scrape took %.1f ms in the median and %.1f ms at most", len(all), *manyFor, 1000*median, 1000*longest)
	t.Logf("%.0f series in Prometheus, %.0f samples a scrape and kettle; its rules take %.1f ms a round", w.series(), w.figure("avg(scrape_samples_scraped)"), 1000*w.rules())
	t.Logf("Prometheus has %d MiB in memory, a daemon %.1f MiB on the mean", resident(t, w.process.Pid)>>10, float64(daemons)/float64(len(all))/1024)
	t.Logf("of %.0f ticks %.0f began more than 0.1 s late", ticks, ticks-late)
}

// figure is the one figure of a query, 0 without one.
func (w *watcher) figure(query string) float64 {
	w.t.Helper()
	all := w.ask(query)
	if len(all) != 1 {
		return 0
	}
	text, _ := all[0].Value[1].(string)
	n, err := strconv.ParseFloat(text, 64)
	if err != nil {
		w.t.Fatal(err)
	}
	return n
}

// get reads what Prometheus says of itself.
func (w *watcher) get(path string, to any) {
	w.t.Helper()
	r, err := http.Get(w.address + path)
	if err != nil {
		w.t.Fatal(err)
	}
	defer r.Body.Close()
	if err := json.NewDecoder(r.Body).Decode(to); err != nil {
		w.t.Fatal(err)
	}
}

// series is how many it keeps in memory.
func (w *watcher) series() float64 {
	var status struct {
		Data struct{ HeadStats struct{ NumSeries float64 } }
	}
	w.get("/api/v1/status/tsdb", &status)
	return status.Data.HeadStats.NumSeries
}

// rules is how long it took over all rules the last time, in seconds.
func (w *watcher) rules() (sum float64) {
	var rules struct {
		Data struct {
			Groups []struct{ EvaluationTime float64 }
		}
	}
	w.get("/api/v1/rules", &rules)
	for _, g := range rules.Data.Groups {
		sum += g.EvaluationTime
	}
	return sum
}

// resident is the memory of a process, in KiB.
func resident(t *testing.T, id int) int {
	t.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", id))
	if err != nil {
		t.Fatal(err)
	}
	m := regexp.MustCompile(`VmRSS:\s+(\d+) kB`).FindSubmatch(text)
	if m == nil {
		t.Fatal("a process without memory")
	}
	n, _ := strconv.Atoi(string(m[1]))
	return n
}
