package suggest_test

import (
	"errors"
	"slices"
	"testing"

	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/suggest"
	"mashward/controller/loop"
	"mashward/controller/record"
	"mashward/profile/plan"
	"mashward/sim"
	"mashward/sim/kettles"
)

// recorded is a batch on a random kettle with its record, and its strike as it
// was watched.
func recorded(t *testing.T) (*record.Memory, *suggest.Strike) {
	t.Helper()
	k := kettles.Random(firstSeed)
	p, _ := mash(k, 0)
	d, problems := plan.Make(p, rehearse.RigOf(k, plan.SolidState).PlanKettle())
	if plan.Refused(problems) {
		t.Fatal(problems)
	}
	strike := &suggest.Strike{}
	run := rehearse.Run{
		Profile: p, Plan: d, Watchers: []loop.Watcher{strike}, Bare: true,
		Kettle: &rehearse.Simulated{Bench: sim.NewBench(sim.New(k.Plant, k.Load, 1), nil, 1)},
	}
	memory := &record.Memory{}
	recorder, err := run.Record(memory, record.Head{Simulated: true, Profile: p.Name})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := run.Go(); err != nil {
		t.Fatal(err)
	}
	recorder.End()
	return memory, strike
}

func read(t *testing.T, m *record.Memory) *record.Reader {
	t.Helper()
	r, err := record.Read(m)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestARecordTellsWhatWasWatched(t *testing.T) {
	memory, strike := recorded(t)
	watched, err := strike.Samples()
	if err != nil || len(watched) < 600 {
		t.Fatalf("%d seconds watched, %v", len(watched), err)
	}
	got, span, err := suggest.Recorded(read(t, memory))
	if err != nil || span.Seconds() != float64(len(watched)) || len(got) != len(watched) {
		t.Fatalf("%d seconds, %v; watched: %d", len(got), err, len(watched))
	}
	for i := range got {
		// A record keeps readings to the nearest bit of its own.
		if got[i].On != watched[i].On || got[i].Has != watched[i].Has || (got[i].Reading-watched[i].Reading) > 0.001 || (watched[i].Reading-got[i].Reading) > 0.001 {
			t.Fatalf("second %d: %+v in the record, %+v watched", i, got[i], watched[i])
		}
	}
	if s, err := suggest.FromRecord(read(t, memory)); err != nil || !s.Agrees() {
		t.Errorf("%v, %+v, %v", err, s.Differs, s.Found.Reason)
	}
}

// A record that ends before the pour teaches nothing, wherever it is cut.
func TestHalfARecordTeachesNothing(t *testing.T) {
	memory, strike := recorded(t)
	watched, _ := strike.Samples()
	size := len(memory.Bytes)
	for _, share := range []float64{0.02, 0.05, 0.1} {
		part := &record.Memory{Bytes: slices.Clone(memory.Bytes[:int(share*float64(size))])}
		r, err := record.Read(part)
		if err != nil {
			continue // not even its head
		}
		if got, _, err := suggest.Recorded(r); !errors.Is(err, suggest.ErrNoStrike) {
			t.Errorf("%.0f %% of it: %d of %d seconds, %v", 100*share, len(got), len(watched), err)
		}
	}
}
