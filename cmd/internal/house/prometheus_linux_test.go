package house

import (
	"bufio"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"
)

// What Debian's Prometheus and Alertmanager make of a kettle that is served, by the
// rules and examples in deploy/prometheus. Only deploy/prometheus-day.sh runs this, and
// names in MASHWARD_PROMETHEUS the file for the queries of the dashboard that were
// answered: it knows what the others have answered.
const answeredTo = "MASHWARD_PROMETHEUS"

const (
	shipped = "../../../deploy/prometheus/"
	// calledWithin is for how long a dead probe may go unannounced: 5 s until a reading is old,
	// the 10 s of the rule, a scrape and two looks at the rules, and a busy machine.
	calledWithin = 40 * time.Second
)

// watcher is a Prometheus of a test.
type watcher struct {
	t       *testing.T
	address string
	process *os.Process
}

// listens starts a program that says in its log where it listens, and ends it with the
// test.
func listens(t *testing.T, folder string, words ...string) (address string, process *os.Process) {
	t.Helper()
	cmd := exec.Command(words[0], words[1:]...)
	cmd.Dir = folder
	said, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
	found, all := make(chan string, 1), ""
	go func() {
		defer close(found)
		listening := regexp.MustCompile(`msg="Listening on" address="?(127\.0\.0\.1:\d+)`)
		in := bufio.NewScanner(said)
		for in.Scan() {
			if m := listening.FindStringSubmatch(in.Text()); m != nil {
				found <- m[1]
				_, _ = io.Copy(io.Discard, said)
				return
			}
			all += in.Text() + "\n"
		}
	}()
	address, ok := <-found
	if !ok {
		t.Fatalf("%s does not come up:\n%s", words[0], all)
	}
	return "http://" + address, cmd.Process
}

// copied writes a file of deploy/prometheus into a folder, with other words in it.
func copied(t *testing.T, folder, name string, words ...string) {
	t.Helper()
	text, err := os.ReadFile(shipped + name)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i+1 < len(words); i += 2 {
		if !strings.Contains(string(text), words[i]) {
			t.Fatalf("%s has no %q", name, words[i])
		}
	}
	if err := os.WriteFile(filepath.Join(folder, name), []byte(strings.NewReplacer(words...).Replace(string(text))), 0o600); err != nil {
		t.Fatal(err)
	}
}

// prometheus starts a Prometheus by the shipped example, which looks as often as it is told,
// at the targets, and tells the Alertmanager at an address.
func prometheus(t *testing.T, every, alertmanager string, targets ...string) *watcher {
	t.Helper()
	folder := t.TempDir()
	for i, address := range targets {
		targets[i] = `"` + strings.TrimPrefix(address, "http://") + `"`
	}
	token := filepath.Join(folder, "token")
	if err := os.WriteFile(token, []byte("nobody asks for it on this machine"), 0o600); err != nil {
		t.Fatal(err)
	}
	copied(t, folder, "rules.yml", "interval: 15s", "interval: "+every)
	copied(t, folder, "prometheus.yml", "_interval: 15s", "_interval: "+every, "/etc/prometheus/mashward.token", token,
		"localhost:9093", strings.TrimPrefix(alertmanager, "http://"), `"localhost:8973"`, strings.Join(targets, ","))
	w := &watcher{t: t}
	w.address, w.process = listens(t, folder, "prometheus", "--config.file=prometheus.yml", "--storage.tsdb.path=data", "--web.listen-address=127.0.0.1:0")
	return w
}

// value is one series of an answer.
type value struct {
	Metric map[string]string
	Value  [2]any
}

// ask gives the series of a query, now; none while it is not ready.
func (w *watcher) ask(query string) []value {
	w.t.Helper()
	r, err := http.Get(w.address + "/api/v1/query?query=" + url.QueryEscape(query))
	if err != nil {
		w.t.Fatal(err)
	}
	defer r.Body.Close()
	if r.StatusCode == http.StatusServiceUnavailable { // it has only just begun
		return nil
	}
	var answer struct {
		Error string
		Data  struct{ Result []value }
	}
	if err := json.NewDecoder(r.Body).Decode(&answer); err != nil || r.StatusCode != http.StatusOK {
		w.t.Fatalf("%s: %s %v %s", query, r.Status, err, answer.Error)
	}
	return answer.Data.Result
}

// calls are what a webhook has been told.
type calls struct {
	mu  sync.Mutex
	all []call
}

type call struct {
	path   string
	Status string
	Alerts []struct {
		Status              string
		Labels, Annotations map[string]string
	}
}

// ServeHTTP takes what an Alertmanager posts.
func (c *calls) ServeHTTP(_ http.ResponseWriter, r *http.Request) {
	got := call{path: r.URL.Path}
	if json.NewDecoder(r.Body).Decode(&got) != nil {
		got.Status = "no JSON"
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.all = append(c.all, got)
}

// of are those about an alert.
func (c *calls) of(alert string) (some []call) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, one := range c.all {
		if len(one.Alerts) > 0 && one.Alerts[0].Labels["alertname"] == alert {
			some = append(some, one)
		}
	}
	return some
}

// TestScenarioADeadProbeIsCalledOut has a kettle of files heat, takes the probe's file
// away, and waits until a webhook is told, through rules, Prometheus and Alertmanager as
// they are shipped; only that they look every second.
func TestScenarioADeadProbeIsCalledOut(t *testing.T) {
	answered := os.Getenv(answeredTo)
	if answered == "" {
		t.Skip("deploy/prometheus-day.sh runs this")
	}
	p := build(t)
	p.files(bigRig, bigProfile, 20)
	d := p.daemon()
	d.heat(25)

	var heard calls
	webhook := httptest.NewServer(&heard)
	t.Cleanup(webhook.Close)
	folder := t.TempDir()
	copied(t, folder, "alertmanager.yml", "http://localhost:9099", webhook.URL)
	alertmanager, _ := listens(t, folder, "prometheus-alertmanager", "--config.file=alertmanager.yml", "--storage.path=data",
		"--web.listen-address=127.0.0.1:0", "--cluster.listen-address=")
	w := prometheus(t, "1s", alertmanager, d.address)
	// Five scrapes, so that the rules have been looked at as well.
	d.until(calledWithin, "Prometheus does not see the kettle heat", func() bool {
		return len(w.ask(`sum_over_time(mashward_probe_up{rig="Kettle of files"}[1m]) >= 5 and mashward_element_on == 1`)) == 1
	})
	if n := len(heard.of("MashwardProbeDown")) + len(w.ask(`ALERTS{alertname!="MashwardNotWatched"}`)); n > 0 {
		t.Fatalf("%d alerts while all is well: %v", n, w.ask("ALERTS"))
	}

	if err := os.Rename(filepath.Join(p.folder, "probe"), filepath.Join(p.folder, "away")); err != nil {
		t.Fatal(err)
	}
	began := time.Now()
	off := d.until(calledWithin, "it heats without a reading", func() bool { return !d.on() })
	var said []call
	d.until(calledWithin, "nobody is told", func() bool {
		said = heard.of("MashwardProbeDown")
		return len(said) > 0
	})
	t.Logf("the probe is dead: heat off after %.1f s, the webhook told after %.1f s", off.Seconds(), time.Since(began).Seconds())
	one := said[0].Alerts[0]
	if said[0].path != "/calls" || one.Status != "firing" || one.Labels["rig"] != "Kettle of files" || one.Labels["severity"] != "now" ||
		one.Annotations["summary"] != "The probe of Kettle of files gives no reading that is at most 5 s old." ||
		!strings.Contains(one.Annotations["description"], "at the breaker") {
		t.Errorf("the webhook is told %+v", said[0])
	}
	queries(t, w, answered)
}

// queries asks everything that the dashboard asks, and writes down what was answered.
func queries(t *testing.T, w *watcher, to string) {
	text, err := os.ReadFile(shipped + "dashboard.json")
	if err != nil {
		t.Fatal(err)
	}
	var answered strings.Builder
	all, good := 0, 0
	for _, m := range regexp.MustCompile(`"expr": ("(?:[^"\\]|\\.)*")`).FindAllStringSubmatch(string(text), -1) {
		var query string
		if err := json.Unmarshal([]byte(m[1]), &query); err != nil {
			t.Fatal(err)
		}
		all++
		if len(w.ask(strings.NewReplacer("$rig", "Kettle of files", "$__range", "5m", "$__rate_interval", "15s").Replace(query))) > 0 {
			good++
			answered.WriteString(query + "\n")
		}
	}
	t.Logf("%d of %d queries of the dashboard are answered about it", good, all)
	if err := os.WriteFile(to, []byte(answered.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}
