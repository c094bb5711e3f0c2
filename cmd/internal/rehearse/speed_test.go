package rehearse

import (
	"testing"
	"time"

	"mashward/controller/record"
	"mashward/profile"
	"mashward/profile/plan"
)

// eightHours is a day of 8 h of rests on the sample kettle.
func eightHours(b *testing.B) (profile.Profile, plan.Plan, func() *Simulated) {
	p, rig, _ := sample(b, "rye-four-rests.yaml", "yard-kettle.yaml")
	for i := range p.Steps {
		if p.Steps[i].Kind == profile.Rest {
			p.Steps[i].For = 165 * time.Minute
		}
	}
	d, problems := plan.Make(p, rig.PlanKettle())
	if plan.Refused(problems) {
		b.Fatal(problems)
	}
	return p, d, func() *Simulated { return asBuilt(b, p, rig, nil) }
}

// benchmarkDay rehearses the whole day again and again. Method: one process,
// one core; loop and plant, no judge, no copies for offset and limit; the
// figure is simulated seconds over wall seconds, counted over all days.
func benchmarkDay(b *testing.B, run func(r *Run)) {
	p, d, kettle := eightHours(b)
	simulated := 0.0
	b.ResetTimer()
	for range b.N {
		r := Run{Profile: p, Plan: d, Kettle: kettle(), Bare: true}
		run(&r)
		result, err := r.Go()
		if err != nil || result.Outcome != "complete" {
			b.Fatal(err, result.Outcome)
		}
		simulated += result.Duration
	}
	b.ReportMetric(simulated/b.Elapsed().Seconds(), "x-real-time")
	b.ReportMetric(simulated/float64(b.N)/3600, "simulated-h/op")
	b.ReportMetric(b.Elapsed().Seconds()/simulated*1e9, "ns/tick")
}

// BenchmarkDayWithoutRecord is loop and plant alone.
func BenchmarkDayWithoutRecord(b *testing.B) { benchmarkDay(b, func(*Run) {}) }

// BenchmarkDayWithRecord also writes the record, to memory.
func BenchmarkDayWithRecord(b *testing.B) {
	benchmarkDay(b, func(r *Run) {
		if _, err := r.Record(&record.Memory{}, record.Head{Simulated: true}); err != nil {
			b.Fatal(err)
		}
	})
}

// BenchmarkDayJudged is what `dryrun` does: with the judge, and at the end the
// copies for offset and limit.
func BenchmarkDayJudged(b *testing.B) { benchmarkDay(b, func(r *Run) { r.Bare = false }) }
