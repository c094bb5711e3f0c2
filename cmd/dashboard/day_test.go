package main

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// A real Prometheus with days in it that were rehearsed, as deploy/prometheus-day.sh
// starts it: where it is, when the healthy day began and ended, when the other did, and
// the file for the queries of the dashboard that the healthy day answers; in one line.
const daysAt = "MASHWARD_PROMETHEUS_DAY"

// yard is the kettle of those days.
const yard = "Yard kettle"

// days is that Prometheus.
type days struct {
	*testing.T
	address   string
	good, bad [2]int64 // seconds since 1970
	answered  string
	between   time.Duration // two samples
}

func theDays(t *testing.T) *days {
	words := strings.Fields(os.Getenv(daysAt))
	if len(words) != 6 {
		t.Skip("deploy/prometheus-day.sh runs this")
	}
	d := &days{T: t, address: words[0], answered: words[5], between: 15 * time.Second}
	for i, to := range []*int64{&d.good[0], &d.good[1], &d.bad[0], &d.bad[1]} {
		var err error
		if *to, err = strconv.ParseInt(words[i+1], 10, 64); err != nil {
			t.Fatal(err)
		}
	}
	return d
}

// line is one series of an answer; its points are pairs of time and value.
type line struct {
	Metric map[string]string
	Values [][2]any
}

// over asks a query over a day.
func (d *days) over(query string, day [2]int64, step time.Duration) []line {
	d.Helper()
	r, err := http.Get(fmt.Sprintf("%s/api/v1/query_range?query=%s&start=%d&end=%d&step=%d", d.address, url.QueryEscape(query), day[0], day[1], int(step.Seconds())))
	if err != nil {
		d.Fatal(err)
	}
	defer r.Body.Close()
	var answer struct {
		Error string
		Data  struct{ Result []line }
	}
	if err := json.NewDecoder(r.Body).Decode(&answer); err != nil || r.StatusCode != http.StatusOK {
		d.Fatalf("%s: %s, %v, %s", query, r.Status, err, answer.Error)
	}
	return answer.Data.Result
}

// lasts is for how long, at the longest, one series of a query is there without a pause.
func (d *days) lasts(query string, day [2]int64) (longest time.Duration) {
	for _, l := range d.over(query, day, d.between) {
		began, before := 0.0, 0.0
		for _, point := range l.Values {
			at, _ := point[0].(float64)
			if at-before > d.between.Seconds() {
				began = at
			}
			before = at
			longest = max(longest, time.Duration((at-began)*float64(time.Second))+1)
		}
	}
	return longest
}

// spelled has recorded figures asked for by what they are made of: nothing recorded them.
func spelled(expr string) string {
	for _, r := range slices.Concat(recordings, hourlies) {
		expr = strings.ReplaceAll(expr, r.name, "("+r.expr+")")
	}
	return expr
}

// fires tells whether an alert would have told somebody.
func (d *days) fires(a *alert, day [2]int64) bool {
	wait := time.Duration(0)
	if a.lasting != "" {
		var err error
		if wait, err = time.ParseDuration(a.lasting); err != nil {
			d.Fatal(err)
		}
	}
	return d.lasts(spelled(a.expr), day) > wait
}

// TestScenarioADayOnAPrometheus asks these days for everything that the dashboard shows, and
// looks which alerts it would have raised: none on a day that goes well; on the other
// day, in which a person comes late, the probe fails and a relay welds, those of that.
func TestScenarioADayOnAPrometheus(t *testing.T) {
	d := theDays(t)
	var answered strings.Builder
	var b board
	if err := json.Unmarshal([]byte(drawn()), &b); err != nil {
		t.Fatal(err)
	}
	var queries []string
	for _, p := range b.Panels {
		for _, q := range p.Targets {
			queries = append(queries, q.Expr)
		}
	}
	for _, n := range notes() {
		queries = append(queries, n.(object)["expr"].(string))
	}
	for _, q := range queries {
		asked := strings.NewReplacer("$rig", yard, "$__range", "8h", "$__rate_interval", "1m").Replace(q)
		if len(d.over(asked, d.good, 3*d.between)) > 0 || len(d.over(asked, d.bad, d.between)) > 0 {
			fmt.Fprintln(&answered, q)
		}
	}
	if err := os.WriteFile(d.answered, []byte(answered.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	t.Logf("the days answer %d of %d queries of the dashboard", strings.Count(answered.String(), "\n"), len(queries))
	for _, r := range slices.Concat(recordings, hourlies) {
		if !strings.Contains(r.name, "late") && r.name != closings && len(d.over(r.expr, d.good, d.between)) == 0 {
			t.Errorf("nothing is recorded as %s", r.name)
		}
	}
	var raised []string
	for _, a := range slices.Concat(kettle, course) {
		if d.fires(&a, d.good) {
			t.Errorf("%s fires on a day that goes well", a.name)
		}
		if d.fires(&a, d.bad) {
			raised = append(raised, a.name)
		}
	}
	t.Logf("the day that goes badly raises %s", strings.Join(raised, ", "))
	for _, name := range []string{"MashwardProbeDown", "MashwardProbeFalters", "MashwardHeatTrip", "MashwardWarmsWhileOff", "MashwardOvershoot", "MashwardPromptWaiting", "MashwardBehindPlan"} {
		if !slices.Contains(raised, name) {
			t.Errorf("%s does not fire on a day that goes badly", name)
		}
	}
}
