package metrics

import (
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus/testutil"
	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/metricset"
	"mashward/cmd/internal/rehearse"
	"mashward/cmd/mashward/internal/wall"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/profile/plan"
	"mashward/sensors"
	"mashward/sim"
)

// process is a Shell with fixed figures.
type process struct{}

func (process) Clients() int         { return 2 }
func (process) Late() *wall.Lateness { return new(wall.Lateness) }

func (process) Overruns() uint64 { return 7 }

func (process) FinishForecast() (early, at, late time.Time, ok bool) {
	return time.Unix(1700000000, 0), time.Unix(1700000300, 0), time.Unix(1700000900, 0), true
}

func (process) Stored() bool { return true }

func (process) Answers() bool { return false }

func (process) ForecastOff() (time.Duration, bool) { return 90 * time.Second, true }

func (process) Notifications(emit func(target, result string, count uint64)) {
	emit("phone", "sent", 3)
	emit("phone", "dropped", 0)
}

// none is a Source before its first tick.
type none struct{}

func (none) Latest() (metricset.Sample, bool) { return metricset.Sample{}, false }

// stopped is the Source of a loop that has come to a stand.
type stopped struct{ *metricset.Tracker }

func (s stopped) Latest() (metricset.Sample, bool) {
	sample, _ := s.Tracker.Latest()
	return sample, false
}

var about = metricset.About{
	Build: metricset.Build{Version: "v1.2.3", Revision: "abc", Go: "go1.26"}, Rig: metricset.Rig{Name: "Yard \xff", Relay: "solid-state"}, Simulated: true,
}

const samples = "../../../../testdata/"

// brewing is a tracker in the sample brew, at the first frame that is wanted.
func brewing(t *testing.T, wanted func(*loop.Frame) bool) *metricset.Tracker {
	t.Helper()
	p, _, err := config.LoadProfile(samples + "profiles/rye-four-rests.yaml")
	if err != nil {
		t.Fatal(err)
	}
	rig, _, err := config.LoadRig(samples + "rigs/yard-kettle.yaml")
	if err != nil {
		t.Fatal(err)
	}
	d, problems := plan.Make(p, rig.PlanKettle())
	if plan.Refused(problems) {
		t.Fatal(problems)
	}
	bench := sim.NewBench(sim.New(rig.Plant(), config.Load(p), 1), nil, 1)
	track := metricset.NewTracker(rig.Element.Power)
	track.Follow(metricset.BatchOf("20260110-1", d))
	end := &ending{bench: bench, wanted: wanted}
	run := rehearse.Run{Profile: p, Plan: d, Kettle: &rehearse.Simulated{Bench: bench}, Bare: true, Watchers: []loop.Watcher{track, end}}
	if _, err := run.Go(); err != nil {
		t.Fatal(err)
	}
	return track
}

// ending stops the bench at a frame.
type ending struct {
	bench  *sim.Bench
	wanted func(*loop.Frame) bool
}

func (e *ending) Watch(f *loop.Frame) {
	if e.wanted(f) {
		e.bench.End = f.Tick.Now
	}
}

// inRest is late in a rest on the way to which there was a ramp, when the PID
// loop runs and the hold is being judged.
func inRest(f *loop.Frame) bool {
	d := &f.Decision
	return d.Index == 2 && d.Phase == controller.Resting && d.Left <= 10*time.Minute && d.Way == controller.Holding
}

// scrape asks once.
func scrape(t *testing.T, h http.Handler, accept string) (body string, kind string) {
	t.Helper()
	ask := httptest.NewRequest(http.MethodGet, "/metrics", nil)
	ask.Header.Set("Accept", accept)
	answer := httptest.NewRecorder()
	h.ServeHTTP(answer, ask)
	if answer.Code != http.StatusOK {
		t.Fatalf("status %d: %s", answer.Code, answer.Body)
	}
	return answer.Body.String(), answer.Header().Get("Content-Type")
}

// TestTheLintersOfPrometheusFindNothing holds the live set of a batch in a rest
// to Prometheus' own linter. With MASHWARD_SCRAPE set to a file's name the
// scrape is written there too, for promtool, which has rules of its own.
func TestTheLintersOfPrometheusFindNothing(t *testing.T) {
	r := registry(brewing(t, inRest), process{}, about)
	problems, err := testutil.GatherAndLint(r)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range problems {
		t.Errorf("%s: %s", p.Metric, p.Text)
	}
	if path := os.Getenv("MASHWARD_SCRAPE"); path != "" {
		body, _ := scrape(t, New(brewing(t, inRest), process{}, about), "text/plain")
		if err := os.WriteFile(path, []byte(body), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// TestAScrapeInARestHasTheWholeTable but for the rate of a ramp, which there is
// none of in a rest.
func TestAScrapeInARestHasTheWholeTable(t *testing.T) {
	families, err := registry(brewing(t, inRest), process{}, about).Gather()
	if err != nil {
		t.Fatal(err)
	}
	found := map[string]bool{}
	for _, f := range families {
		found[f.GetName()] = true
	}
	for _, m := range metricset.All() {
		if found[m.Name()] == (m == metricset.RampRate) {
			t.Errorf("%s is there: %v", m.Name(), found[m.Name()])
		}
	}
	if !found["go_goroutines"] || !found["process_resident_memory_bytes"] {
		t.Error("the figures of the Go runtime or of the process are missing")
	}
}

func TestTheProcessTellsItsOwnFigures(t *testing.T) {
	want := `
# HELP mashward_build_info 1; the program that runs.
# TYPE mashward_build_info gauge
mashward_build_info{goversion="go1.26",revision="abc",rig="Yard \ufffd",version="v1.2.3"} 1
# HELP mashward_control_loop_overruns_total Ticks that were skipped because the one before took too long.
# TYPE mashward_control_loop_overruns_total counter
mashward_control_loop_overruns_total{rig="Yard \ufffd"} 7
# HELP mashward_notifications_total Messages to each target of the notify file, by what became of them: sent, refused for good, failed in all attempts, dropped because too many waited, overtaken by what came later.
# TYPE mashward_notifications_total counter
mashward_notifications_total{result="dropped",rig="Yard \ufffd",target="phone"} 0
mashward_notifications_total{result="sent",rig="Yard \ufffd",target="phone"} 3
# HELP mashward_probe_up 1 while the probe gives readings at most 5 s old, else 0.
# TYPE mashward_probe_up gauge
mashward_probe_up{rig="Yard \ufffd"} 0
# HELP mashward_record_stored 1 while what happens is written to storage, or no records are kept; 0 while it is not: a power cut would then lose the batch.
# TYPE mashward_record_stored gauge
mashward_record_stored{rig="Yard \ufffd"} 1
# HELP mashward_relay_up 1 while the lines of all relays answer, 0 while nobody knows what one of them does, or one has been given up.
# TYPE mashward_relay_up gauge
mashward_relay_up{rig="Yard \ufffd"} 0
# HELP mashward_rig_info 1; the kettle, and how the element's relay switches: mechanical contacts wear, solid-state does not.
# TYPE mashward_rig_info gauge
mashward_rig_info{relay="solid-state",rig="Yard \ufffd"} 1
# HELP mashward_simulated 1 if kettle, probe and element are simulated, 0 if they are real.
# TYPE mashward_simulated gauge
mashward_simulated{rig="Yard \ufffd"} 1
# HELP mashward_sse_clients Open streams of events to pages.
# TYPE mashward_sse_clients gauge
mashward_sse_clients{rig="Yard \ufffd"} 2
`
	names := []metricset.Metric{
		metricset.BuildIdentity, metricset.Overruns, metricset.ProbeUp, metricset.Simulated,
		metricset.Clients, metricset.ProbeTemperature, metricset.ElementOn,
		metricset.RigIdentity, metricset.RecordStored, metricset.RelayUp,
	}
	var asked []string
	for _, m := range names {
		asked = append(asked, m.Name())
	}
	want = strings.ReplaceAll(want, `\ufffd`, "\uFFFD")
	if err := testutil.GatherAndCompare(registry(none{}, process{}, about), strings.NewReader(want), asked...); err != nil {
		t.Error(err)
	}
}

func TestALoopThatStandsStillShowsNoPresent(t *testing.T) {
	track := brewing(t, inRest)
	gauges := func(s Source) (n int) {
		families, err := registry(s, process{}, about).Gather()
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range families {
			switch name := f.GetName(); name {
			case metricset.ProbeTemperature.Name(), metricset.ElementOn.Name(), metricset.AlarmActive.Name(), metricset.Output.Name():
				n++
			case metricset.ForecastFinish.Name():
				n += 10
			case metricset.ProbeUp.Name():
				n += int(f.GetMetric()[0].GetGauge().GetValue())
			case metricset.ElementOnTime.Name():
				if f.GetMetric()[0].GetCounter().GetValue() < 600 {
					t.Error("the counter of the element's time is gone")
				}
			}
		}
		return n
	}
	if n := gauges(track); n != 15 {
		t.Errorf("%d of 15 figures of the present while the loop runs", n)
	}
	if n := gauges(stopped{track}); n != 0 {
		t.Errorf("%d figures of the present although the loop stands still", n)
	}
}

func TestOpenMetricsIsSpokenToThoseWhoAskForIt(t *testing.T) {
	h := New(brewing(t, inRest), process{}, about)
	body, kind := scrape(t, h, "application/openmetrics-text; version=1.0.0")
	if !strings.HasPrefix(kind, "application/openmetrics-text") || !strings.HasSuffix(body, "\n# EOF\n") {
		t.Errorf("%s, ending in %q", kind, body[max(0, len(body)-20):])
	}
	body, kind = scrape(t, h, "text/plain")
	if !strings.HasPrefix(kind, "text/plain") || strings.Contains(body, "# EOF") {
		t.Errorf("%s where plain text was asked for", kind)
	}
	parser := expfmt.NewTextParser(model.LegacyValidation)
	families, err := parser.TextToMetricFamilies(strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	got := families[metricset.ProbeTemperature.Name()].GetMetric()[0].GetGauge().GetValue()
	if got < 62 || got > 64 {
		t.Errorf("a probe in a rest at 63 °C shows %g", got)
	}
}

func TestAProfileWithAnOddNameDoesNotBreakTheScrape(t *testing.T) {
	track := metricset.NewTracker(3000)
	track.Follow(metricset.BatchOf("b", plan.Plan{Profile: "Rye \xff \"four\"\n"}))
	track.Watch(&loop.Frame{State: &controller.State{}})
	want := "# HELP mashward_batch_info 1; the batch that runs, or the last one.\n# TYPE mashward_batch_info gauge\n" +
		`mashward_batch_info{batch="b",profile="Rye \ufffd \"four\"\n",rig="Yard \ufffd"} 1` + "\n"
	want = strings.ReplaceAll(want, `\ufffd`, "\uFFFD")
	if err := testutil.GatherAndCompare(registry(track, process{}, about), strings.NewReader(want), metricset.BatchIdentity.Name()); err != nil {
		t.Error(err)
	}
}

// TestScrapesFromManySidesWhileTheLoopRuns gives the race detector its chance:
// the loop ticks until each side has had its answers.
func TestScrapesFromManySidesWhileTheLoopRuns(t *testing.T) {
	track := metricset.NewTracker(3000)
	h := New(track, process{}, about)
	var sides sync.WaitGroup
	for range atOnce {
		sides.Go(func() {
			for range 20 {
				scrape(t, h, "text/plain")
			}
		})
	}
	answered := make(chan struct{})
	go func() { sides.Wait(); close(answered) }()
	f := loop.Frame{State: &controller.State{}}
	ticks := uint64(0)
	for going := true; going; ticks++ {
		f.Tick.Now += time.Second
		f.Tick.Reading = sensors.Reading{Value: 20, Taken: f.Tick.Now, Fault: sensors.None}
		track.Watch(&f)
		select {
		case <-answered:
			going = false
		default:
		}
	}
	if s, ok := track.Latest(); !ok || s.Ticks != ticks {
		t.Errorf("after %d ticks the newest sample is of tick %d", ticks, s.Ticks)
	}
	if n := testutil.CollectAndCount(newCollector(track, process{}, about), metricset.ProbeTemperature.Name()); n != 1 {
		t.Errorf("%d temperatures at the end", n)
	}
}

func TestTooManyScrapesAtOnceAreSentAway(t *testing.T) {
	hold, inside := make(chan struct{}), make(chan struct{}, atOnce)
	h := New(slow{hold, inside}, process{}, about)
	var all sync.WaitGroup
	for range atOnce {
		all.Go(func() { h.ServeHTTP(httptest.NewRecorder(), httptest.NewRequest(http.MethodGet, "/metrics", nil)) })
	}
	for range atOnce {
		<-inside
	}
	answer := httptest.NewRecorder()
	h.ServeHTTP(answer, httptest.NewRequest(http.MethodGet, "/metrics", nil))
	if answer.Code != http.StatusServiceUnavailable {
		body, _ := io.ReadAll(answer.Body)
		t.Errorf("one too many is answered with %d: %.100s", answer.Code, body)
	}
	close(hold)
	all.Wait()
}

// slow is a Source that waits.
type slow struct {
	hold   chan struct{}
	inside chan struct{}
}

func (s slow) Latest() (metricset.Sample, bool) {
	s.inside <- struct{}{}
	<-s.hold
	return metricset.Sample{}, false
}
