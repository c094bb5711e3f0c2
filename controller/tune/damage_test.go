package tune_test

import (
	"math/rand/v2"
	"slices"

	"mashward/controller/tune"
	"mashward/controller/unit"
	"mashward/sim"
)

// damage is something that goes wrong in a test: in the kettle while it runs,
// or in its record.
type damage struct {
	name   string
	spoil  func(r *rand.Rand) func(*sampler)
	record func(r *rand.Rand, s []tune.Sample) []tune.Sample
}

// at makes something happen once, at a moment of the test.
func at(second int, do func(*sampler)) func(*sampler) {
	return func(s *sampler) {
		if s.second == second {
			do(s)
		}
	}
}

// condition sets a fault of the plant from a moment on.
func condition(c sim.Condition) func(r *rand.Rand) func(*sampler) {
	return func(r *rand.Rand) func(*sampler) {
		return at(70+r.IntN(900), func(s *sampler) { s.bench.Plant().SetCondition(c) })
	}
}

// event lets something happen to the kettle at a moment.
func event(e sim.Event) func(r *rand.Rand) func(*sampler) {
	return func(r *rand.Rand) func(*sampler) {
		return at(70+r.IntN(900), func(s *sampler) { s.bench.Plant().Do(e) })
	}
}

// damages are what is tried, in turn.
func damages() []damage { return append(kettleDamages(), recordDamages()...) }

// kettleDamages happen to the kettle while the test runs.
func kettleDamages() []damage {
	return []damage{
		{name: "lid off", spoil: condition(sim.Condition{LidOff: true})},
		{name: "supply sags by 10 %", spoil: condition(sim.Condition{Sag: 0.1})},
		{name: "half of the element fails", spoil: condition(sim.Condition{ElementLost: 0.5})},
		{name: "element dry", spoil: condition(sim.Condition{ElementDry: true})},
		{name: "pump stops", spoil: condition(sim.Condition{PumpStopped: true})},
		{name: "probe out", spoil: condition(sim.Condition{ProbeOut: true})},
		{name: "running out", spoil: condition(sim.Condition{Drain: 0.02})},
		{name: "cold water in", spoil: event(sim.Event{Kind: sim.WaterIn, Litres: 3, Temperature: 10})},
		{name: "hot water in", spoil: event(sim.Event{Kind: sim.WaterIn, Litres: 2, Temperature: 60})},
		{name: "water out", spoil: event(sim.Event{Kind: sim.WaterOut, Litres: 4})},
		{name: "chiller on", spoil: event(sim.Event{Kind: sim.ChillerOn})},
	}
}

// moment is where in a record something begins.
func moment(r *rand.Rand, s []tune.Sample) int { return 60 + r.IntN(len(s)-120) }

// recordDamages happen to the record of a sound test.
func recordDamages() []damage {
	return []damage{
		{name: "cut short", record: func(r *rand.Rand, s []tune.Sample) []tune.Sample { return s[:moment(r, s)] }},
		{name: "a stretch of time missing", record: func(r *rand.Rand, s []tune.Sample) []tune.Sample {
			i := moment(r, s)
			return slices.Delete(s, i, min(i+60+r.IntN(200), len(s)))
		}},
		{name: "element's times shifted", record: func(r *rand.Rand, s []tune.Sample) []tune.Sample {
			shift := 60 + r.IntN(120)
			out := slices.Clone(s)
			for i := range out {
				out[i].On = s[min(i+shift, len(s)-1)].On
			}
			return out
		}},
		{name: "reading jumps by 1 to 4 °C", record: func(r *rand.Rand, s []tune.Sample) []tune.Sample {
			jump := unit.Celsius(1 + 3*r.Float64())
			for i := moment(r, s); i < len(s); i++ {
				s[i].Reading += jump
			}
			return s
		}},
		{name: "reading drifts", record: func(r *rand.Rand, s []tune.Sample) []tune.Sample {
			i := moment(r, s)
			for j := i; j < len(s); j++ {
				s[j].Reading += unit.Celsius(float64(j-i) * 0.002)
			}
			return s
		}},
		{name: "reading frozen", record: func(r *rand.Rand, s []tune.Sample) []tune.Sample {
			i := moment(r, s)
			for j := i; j < min(i+90+r.IntN(300), len(s)); j++ {
				s[j].Reading = s[i].Reading
			}
			return s
		}},
		{name: "spikes", record: func(r *rand.Rand, s []tune.Sample) []tune.Sample {
			for i := range s {
				if r.IntN(20) == 0 {
					s[i].Reading += 20
				}
			}
			return s
		}},
		{name: "noise of 0.5 °C", record: func(r *rand.Rand, s []tune.Sample) []tune.Sample {
			for i := range s {
				s[i].Reading += unit.Celsius(0.5 * r.NormFloat64())
			}
			return s
		}},
		{name: "a third of the readings missing", record: func(r *rand.Rand, s []tune.Sample) []tune.Sample {
			for i := range s {
				s[i].Has = s[i].Has && r.IntN(3) != 0
			}
			return s
		}},
		{name: "element on in the quiet, unrecorded", record: func(r *rand.Rand, s []tune.Sample) []tune.Sample {
			for i := range s {
				s[i].On = s[i].On && i < len(s)/4
			}
			return s
		}},
		{name: "record that begins in the heat-up", record: func(_ *rand.Rand, s []tune.Sample) []tune.Sample { return s[120:] }},
	}
}
