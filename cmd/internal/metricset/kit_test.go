package metricset

import (
	"strings"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/rehearse"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/sensors"
	"mashward/sim"
	"mashward/sim/fault"
)

// figures are those of one sample by name and labels, without the prefix.
type figures map[string]float64

// read gives a sample's figures by name and labels; one that comes twice fails.
func read(t *testing.T, s Sample) figures {
	t.Helper()
	all := figures{}
	s.Each(func(m Metric, value float64, labels ...string) {
		if len(labels) != len(m.Family().Labels) {
			t.Fatalf("%s has %d values for its labels %v", m.Name(), len(labels), m.Family().Labels)
		}
		key := strings.TrimPrefix(m.Name(), Prefix) + braces(m.Family().Labels, labels)
		if _, twice := all[key]; twice {
			t.Errorf("%s comes twice in one sample", key)
		}
		all[key] = value
	})
	return all
}

// wants compares figures.
func (f figures) wants(t *testing.T, key string, want float64) {
	t.Helper()
	got, ok := f[key]
	if !ok {
		t.Errorf("%s is missing, want %g", key, want)
	} else if diff := got - want; diff > 1e-9 || diff < -1e-9 {
		t.Errorf("%s is %g, want %g", key, got, want)
	}
}

// lacks wants figures to be absent.
func (f figures) lacks(t *testing.T, keys ...string) {
	t.Helper()
	for _, key := range keys {
		if v, ok := f[key]; ok {
			t.Errorf("%s is %g, want none", key, v)
		}
	}
}

// scene makes frames by hand: a rest at 63 °C of a batch of three steps, one
// frame a second, until a test changes it.
type scene struct {
	t     *testing.T
	track *Tracker
	state controller.State
	frame loop.Frame
}

func newScene(t *testing.T) *scene {
	s := &scene{t: t, track: NewTracker(3000)}
	s.state.Count = 3
	s.state.Steps[0] = controller.Step{Kind: profile.Strike, Target: 70}
	s.state.Steps[1] = controller.Step{Kind: profile.MashIn, Target: 44, For: 10 * time.Minute, Floor: 1}
	s.state.Steps[2] = controller.Step{Kind: profile.Rest, Target: 63, For: 20 * time.Minute, Floor: 1, Ramp: 1. / 60}
	s.frame.State = &s.state
	s.frame.Decision = controller.Decision{
		Mode: controller.Running, Index: 2, Kind: profile.Rest, Stage: controller.Count, Phase: controller.Resting,
		Reached: true, Left: 20 * time.Minute, Target: 63, HasTarget: true, Estimate: 63, HasEstimate: true,
	}
	s.reading(63)
	return s
}

// reading is a good reading of this instant.
func (s *scene) reading(c unit.Celsius) {
	s.frame.Tick.Reading = sensors.Reading{Value: c, Taken: s.frame.Tick.Now, Fault: sensors.None}
}

// tick lets a second pass, with a new reading where the last was good.
func (s *scene) tick() figures { return s.after(time.Second) }

func (s *scene) after(dt time.Duration) figures {
	f := &s.frame
	f.Number++
	f.Tick.Now += dt
	if f.Tick.Reading.Good() {
		f.Tick.Reading.Taken = f.Tick.Now
	}
	s.track.Watch(f)
	f.Decision.Count = 0
	return s.now()
}

// now is the newest sample.
func (s *scene) now() figures {
	s.t.Helper()
	sample, ok := s.track.Latest()
	if !ok {
		s.t.Fatal("there is no sample")
	}
	return read(s.t, sample)
}

// event adds an event to the next frame.
func (s *scene) event(kind controller.EventKind, step uint8, value float64) {
	d := &s.frame.Decision
	d.Events[d.Count] = controller.Event{Kind: kind, Step: step, Value: value}
	d.Count++
}

const samples = "../../../testdata/"

// day is the sample brew on its rig as declared, with faults and watchers.
func day(t *testing.T, name string, script fault.Script) *rehearse.Run {
	t.Helper()
	p, _, err := config.LoadProfile(samples + "profiles/" + name)
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
	injector := fault.New(script, rehearse.FromStart(p)...)
	bench := sim.NewBench(sim.New(rig.Plant(), config.Load(p), 1), injector, 1)
	return &rehearse.Run{Profile: p, Plan: d, Kettle: &rehearse.Simulated{Bench: bench, Faults: injector}}
}
