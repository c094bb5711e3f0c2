package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"mashward/cmd/internal/metricset"
)

// kept is the folder in git, from here.
const kept = "../../" + folder

func TestWhatIsKeptInGitIsWhatTheProgramWrites(t *testing.T) {
	for name, want := range files() {
		got, err := os.ReadFile(filepath.Join(kept, name))
		if err != nil {
			t.Fatal(err)
		}
		if string(got) != want {
			t.Errorf("%s is not as `go run ./cmd/dashboard` writes it", name)
		}
	}
}

// names of ours, without what Prometheus adds to a histogram's and what stands
// between the colons of a recording rule's.
var ours = regexp.MustCompile(`(?:^|[^a-z_:])(mashward_[a-z_]+)`)

func TestEveryMetricIsShownAndNoneIsMisspelt(t *testing.T) {
	known := map[string]bool{metricset.Lateness + "_bucket": true, metricset.Lateness + "_count": true}
	for _, m := range metricset.All() {
		known[m.Name()] = true
	}
	shown := map[string]bool{}
	for name, text := range files() {
		for _, found := range ours.FindAllStringSubmatch(text, -1) {
			if !known[found[1]] {
				t.Errorf("%s asks for %s, which nobody tells", name, found[1])
			}
			shown[found[1]] = shown[found[1]] || name == "dashboard.json"
		}
	}
	for _, m := range metricset.All() {
		if !shown[m.Name()] {
			t.Errorf("the dashboard does not show %s", m.Name())
		}
	}
}

// board is what is looked at of the dashboard.
type board struct {
	Panels []struct {
		ID      int
		Type    string
		Title   string
		GridPos struct{ X, Y, W, H int }
		Targets []struct{ Expr string }
	}
}

func TestTheDashboardIsLaidOutAndAsksOnlyOfTheChosenSource(t *testing.T) {
	text := drawn()
	var b board
	if err := json.Unmarshal([]byte(text), &b); err != nil {
		t.Fatal(err)
	}
	for _, uid := range regexp.MustCompile(`"uid": "([^"]*)"`).FindAllStringSubmatch(text, -1) {
		if uid[1] != "${datasource}" && uid[1] != ownUID {
			t.Errorf("it names the data source %s, which is there on one machine only", uid[1])
		}
	}
	taken := map[[2]int]string{}
	ids := map[int]bool{}
	queries := 0
	for _, p := range b.Panels {
		if ids[p.ID] {
			t.Errorf("two panels have the number %d", p.ID)
		}
		ids[p.ID] = true
		for x := p.GridPos.X; x < p.GridPos.X+p.GridPos.W; x++ {
			for y := p.GridPos.Y; y < p.GridPos.Y+p.GridPos.H; y++ {
				if other, ok := taken[[2]int{x, y}]; ok || x >= 24 {
					t.Fatalf("%q stands on %q, or beyond the edge", p.Title, other)
				}
				taken[[2]int{x, y}] = p.Title
			}
		}
		for _, q := range p.Targets {
			queries++
			left := strings.NewReplacer("$rig", "", "$__range", "", "$__rate_interval", "").Replace(q.Expr)
			if strings.ContainsAny(left, "$") || strings.Contains(left, "RIG") {
				t.Errorf("%q has something else in it to fill in: %s", p.Title, q.Expr)
			}
		}
		if p.Type != "row" && len(p.Targets) == 0 {
			t.Errorf("%q shows nothing", p.Title)
		}
	}
	if queries < 50 {
		t.Errorf("only %d queries", queries)
	}
}

func TestEveryAlertSaysWhatIsSoAndWhatToDoAndHasBothTrials(t *testing.T) {
	var names []string
	for _, a := range slices.Concat(alerts, overTheYear) {
		if slices.Contains(names, a.name) || !strings.HasPrefix(a.name, "Mashward") {
			t.Errorf("%s is there twice, or goes by another's name", a.name)
		}
		names = append(names, a.name)
		for _, says := range []string{a.summary, a.description()} {
			if !strings.HasSuffix(says, ".") || len(says) < 30 {
				t.Errorf("%s: this is no sentence: %s", a.name, says)
			}
		}
		if a.severity != now && a.severity != today {
			t.Errorf("%s is for %q", a.name, a.severity)
		}
		if a.severity == now && !a.hands && a.name != "MashwardNotWatched" {
			t.Errorf("%s sends somebody to the kettle without the caution", a.name)
		}
		if a.firing.labels == nil || a.firing.said == "" || len(a.firing.series) == 0 || a.silent.labels != nil || len(a.silent.series) == 0 {
			t.Errorf("%s lacks a trial in which it fires, or one in which it is silent", a.name)
		}
	}
	if len(names) < 18 {
		t.Errorf("only %d alerts: %q", len(names), names)
	}
}
