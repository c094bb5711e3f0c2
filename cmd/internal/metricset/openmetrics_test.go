package metricset

import (
	"bufio"
	"bytes"
	"errors"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"

	"mashward/cmd/internal/rehearse"
	"mashward/controller"
	"mashward/profile/plan"
)

var began = time.Date(2026, time.January, 10, 8, 0, 0, 0, time.UTC)

// yard is a process that rehearses the sample kettle.
var yard = About{Build: Build{"v1", "abc", "go1.26"}, Rig: Rig{"Yard \"kettle\"", "solid-state"}, Simulated: true}

// exported is a short day as text, with how it went.
func exported(t *testing.T) (string, rehearse.Result) {
	t.Helper()
	run := day(t, "one-rest.yaml", nil)
	track := NewTracker(run.Plan.Kettle.Power)
	track.Follow(BatchOf("a \"day\"\nof \\ tests", run.Plan))
	x := NewExport(track, yard, began)
	run.Watchers = append(run.Watchers, x)
	result, err := run.Go()
	if err != nil {
		t.Fatal(err)
	}
	var text bytes.Buffer
	if n, err := x.WriteTo(&text); err != nil || n != int64(text.Len()) {
		t.Fatalf("%d of %d bytes written: %v", n, text.Len(), err)
	}
	return text.String(), result
}

func TestTheExportIsGoodOpenMetrics(t *testing.T) {
	text, result := exported(t)
	t.Run("it keeps to the grammar", func(t *testing.T) { grammar(t, text, result) })
	t.Run("the parser of Prometheus reads it", func(t *testing.T) { parserReads(t, text, result) })
}

var (
	metadata   = regexp.MustCompile(`^# (TYPE|UNIT|HELP) (mashward_[a-z_]+) (.+)$`)
	sampleLine = regexp.MustCompile(`^(mashward_[a-z_]+)(\{(?:[a-z]+="(?:[^"\\\n]|\\["\\n])*",?)+\})? (\S+) (\S+)$`)
)

// grammar checks what the text form 1.0
// demands of a series of samples: metadata first and once, families and series
// in one piece each, time rising, counters that never fall, the end mark.
func grammar(t *testing.T, text string, result rehearse.Result) {
	body, ok := strings.CutSuffix(text, "\n# EOF\n")
	if !ok || strings.Contains(body, "# EOF") {
		t.Fatal("it does not end with the one end mark")
	}
	families, doneSeries := map[string]string{}, map[string]bool{}
	family, unit, series := "", "", ""
	var at, value, end float64
	for line := range strings.SplitSeq(body, "\n") {
		if m := metadata.FindStringSubmatch(line); m != nil {
			switch m[1] {
			case "TYPE":
				if _, twice := families[m[2]]; twice {
					t.Fatalf("the family %s comes twice", m[2])
				}
				family, unit, families[m[2]] = m[2], "", m[3]
			case "UNIT":
				unit = m[3]
				if !strings.HasSuffix(m[2], "_"+unit) {
					t.Errorf("%s does not end in its unit %s", m[2], unit)
				}
			}
			if m[2] != family {
				t.Fatalf("metadata of %s in the family %s", m[2], family)
			}
			continue
		}
		m := sampleLine.FindStringSubmatch(line)
		if m == nil {
			t.Fatalf("no line of OpenMetrics: %s", line)
		}
		want := family
		if families[family] == "counter" {
			want += "_total"
		}
		if m[1] != want {
			t.Fatalf("a sample of %s in the family %s", m[1], family)
		}
		v, err1 := strconv.ParseFloat(m[3], 64)
		now, err2 := strconv.ParseFloat(m[4], 64)
		if err1 != nil || err2 != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			t.Fatalf("not a number: %s", line)
		}
		if key := m[1] + m[2]; key != series {
			if doneSeries[key] {
				t.Fatalf("%s is in two pieces", key)
			}
			doneSeries[key], series = true, key
		} else if now <= at || families[family] == "counter" && v < value {
			t.Fatalf("%s: after %g at %f", line, value, at)
		}
		at, value, end = now, v, max(end, now)
	}
	if want := float64(began.Unix()) + result.Duration; end != want {
		t.Errorf("the last sample is of %f, the batch ended at %f", end, want)
	}
}

// parserReads gives the text to the parser of the
// Prometheus client library. It knows the older text form, in which timestamps
// are in milliseconds and the family of a counter has its _total.
func parserReads(t *testing.T, text string, result rehearse.Result) {
	parser := expfmt.NewTextParser(model.LegacyValidation)
	parsed, err := parser.TextToMetricFamilies(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	last := func(m Metric) float64 {
		all := parsed[m.Name()].GetMetric()
		if len(all) == 0 {
			t.Fatalf("%s is not there", m.Name())
		}
		newest := all[len(all)-1]
		return newest.GetGauge().GetValue() + newest.GetUntyped().GetValue()
	}
	if got := last(ElementEnergy); got != result.Energy {
		t.Errorf("energy %g, want %g", got, result.Energy)
	}
	if got := last(ElementSwitches); got != float64(result.Switches) {
		t.Errorf("switches %g, want %d", got, result.Switches)
	}
	if got, want := len(parsed[ProbeTemperature.Name()].GetMetric()), int(result.Duration)/15+2; got < want-1 || got > want {
		t.Errorf("%d temperatures in %g s", got, result.Duration)
	}
	labels := parsed[BatchIdentity.Name()].GetMetric()[0].GetLabel()
	for i, want := range [][2]string{{"rig", `Yard "kettle"`}, {"batch", "a \"day\"\nof \\ tests"}} {
		if labels[i].GetName() != want[0] || labels[i].GetValue() != want[1] {
			t.Errorf("the batch comes back with %s=%q, want %q", labels[i].GetName(), labels[i].GetValue(), want)
		}
	}
	if got := parsed[ProbeTemperature.Name()].GetMetric()[1].GetTimestampMs(); got != began.Unix()+15 {
		t.Errorf("the second sample is of %d, want 15 after %d", got, began.Unix())
	}
}

// TestTheExportHasEverythingButWhatTheProcessTells: a figure of the table that
// no day brings about would be a promise not kept.
func TestTheExportHasEverythingButWhatTheProcessTells(t *testing.T) {
	run := day(t, "rye-four-rests.yaml", nil)
	track := NewTracker(run.Plan.Kettle.Power)
	track.Follow(BatchOf("b", run.Plan))
	x := NewExport(track, yard, began)
	run.Watchers = append(run.Watchers, x)
	if _, err := run.Go(); err != nil {
		t.Fatal(err)
	}
	var missing []string
	for m, all := range x.series {
		if len(all) == 0 {
			missing = append(missing, Metric(m).Name())
		}
	}
	if want := []string{
		Overruns.Name(), Clients.Name(), ForecastFinish.Name(), ForecastEarly.Name(), ForecastLate.Name(), ForecastError.Name(),
		Notifications.Name(), RecordStored.Name(), RelayUp.Name(),
	}; !slices.Equal(missing, want) {
		t.Errorf("without samples: %q, want %q", missing, want)
	}
}

func TestTimesAreWrittenInSecondsWithMilliseconds(t *testing.T) {
	for at, want := range map[time.Duration]string{0: "1768032000", 15 * time.Second: "1768032015", 1007 * time.Millisecond: "1768032001.007"} {
		if got := timestamp(began.Add(at)); got != want {
			t.Errorf("%v after the start is %s, want %s", at, got, want)
		}
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no room") }

func TestAWriterThatFailsIsTold(t *testing.T) {
	s := newScene(t)
	x := NewExport(s.track, yard, began)
	s.event(controller.BatchStarted, 0, 0)
	x.Watch(&s.frame)
	if n, err := x.WriteTo(full{}); err == nil || n != 0 {
		t.Errorf("%d bytes, error %v", n, err)
	}
	var text bytes.Buffer
	if _, err := NewExport(NewTracker(1), yard, began).WriteTo(&text); err != nil || text.String() != "# EOF\n" {
		t.Errorf("an export of nothing is %q, %v", text.String(), err)
	}
	lines := 0
	text.Reset()
	x.WriteTo(&text)
	for scan := bufio.NewScanner(&text); scan.Scan(); lines++ {
	}
	if lines < 50 {
		t.Errorf("one sample has %d lines", lines)
	}
}

func TestTheTimeOfAnExportNeverGoesBack(t *testing.T) {
	s := newScene(t)
	x := NewExport(s.track, yard, began)
	for range 60 {
		if s.frame.Tick.Now%(20*time.Second) == 0 {
			s.event(controller.BatchStarted, 0, 0)
		}
		s.frame.Tick.Now += time.Second
		x.Watch(&s.frame)
		s.frame.Decision.Count = 0
	}
	var want []byte
	for _, at := range []int64{0, 15, 30, 45} {
		want = strconv.AppendInt(append(want, `mashward_simulated{rig="Yard \"kettle\""} 1 `...), began.Unix()+at, 10)
		want = append(want, '\n')
	}
	if got := x.series[Simulated][0].text; !bytes.Equal(got, want) {
		t.Errorf("a minute with three starts is\n%swant\n%s", got, want)
	}
}

func TestThePlanMayBeEmpty(t *testing.T) {
	s := newScene(t)
	s.track.Follow(BatchOf("b", plan.Plan{}))
	s.tick().lacks(t, "plan_temperature_celsius", `step_heating_planned_seconds{step="2"}`)
}
