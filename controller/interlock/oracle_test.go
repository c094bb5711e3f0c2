package interlock

import (
	"math"
	"testing"
	"time"

	"mashward/controller/unit"
	"mashward/sensors"
)

// situation is the interlock with all numbers taken out: what a person would
// ask to decide about heat. Its states can be counted, so all are tried.
type situation struct {
	wanted, armed, heats, expired bool
	reading                       int // good, at the limit, lost, out of range, jumped
	lifted                        bool
	level                         int // no switch, filled, dry
	finding                       int // none, too-fast, probe-out
	tick                          int // in time, late, standing still
	before                        int // nothing, a trip stands, a cut whose cause went 3 s ago
	clear                         bool
	volume                        int // not stated, enough, low, enough but drawn off since
	long, started                 bool
}

const (
	good = iota
	atLimit
	lost
	outOfRange
	jumped
)

// sizes are the numbers of values of the fields, in the order of situationOf.
var sizes = [...]int{2, 2, 2, 2, 5, 2, 3, 3, 3, 3, 2, 4, 2, 2}

// situationOf counts through all situations.
func situationOf(n int) situation {
	var d [len(sizes)]int
	for i, s := range sizes {
		d[i], n = n%s, n/s
	}
	return situation{
		wanted: d[0] == 1, armed: d[1] == 1, heats: d[2] == 1, expired: d[3] == 1, reading: d[4], lifted: d[5] == 1,
		level: d[6], finding: d[7], tick: d[8], before: d[9], clear: d[10] == 1, volume: d[11], long: d[12] == 1, started: d[13] == 1,
	}
}

// answer is what the oracle says: heat or not, which rules cut, which trip.
type answer struct {
	heat      bool
	cut, trip map[string]bool
}

// oracle was written from the page of rules, not from the code.
func (s situation) oracle() answer {
	a := answer{cut: map[string]bool{}, trip: map[string]bool{}}
	a.cut["stale"] = s.reading == lost
	a.cut["implausible"] = s.reading == outOfRange || s.reading == jumped
	a.cut["not-armed"] = s.wanted && (!s.armed || s.expired || !s.heats)
	a.cut["empty"] = s.level == 2
	a.cut["tick-late"] = s.started && s.tick == 1 || s.before == 2
	a.cut["probe-out"] = s.finding == 2
	a.trip["over-temperature"] = s.reading == atLimit && s.armed
	a.trip["empty"] = s.lifted && s.volume >= 2
	a.trip["on-too-long"] = s.long
	a.trip["too-fast"] = s.finding == 1
	a.trip["not-heating"] = s.before == 1 && !s.clear
	a.heat = s.wanted && s.started
	for _, set := range []map[string]bool{a.cut, a.trip} {
		for _, on := range set {
			a.heat = a.heat && !on
		}
	}
	return a
}

// build puts the numbers back in.
func (s situation) build() (Guard, Facts) {
	const now = 1000 * time.Second
	base, limit := unit.Celsius(80), unit.Celsius(83)
	if s.lifted {
		base, limit = 98, 102.9
	}
	g := Guard{Started: s.started, Now: now - time.Second, Seen: true, Last: Sample{base, now - time.Second}, Armed: time.Hour}
	f := Facts{
		Now: now, Reading: sensors.Reading{Value: base, Taken: now, Fault: sensors.None}, Wanted: unit.RelayOf(s.wanted),
		Applied: unit.RelayOf(s.long), Armed: s.armed, Heats: s.heats, EmptySwitch: Switch(s.level),
		Finding: []Rule{NoRule, TooFast, ProbeOut}[s.finding], Clear: s.clear,
		Volume: []unit.Litres{0, 30, 12.5, 30}[s.volume],
		Drawn:  []unit.Litres{0, 0, 0, 17.5}[s.volume],
	}
	switch s.reading {
	case atLimit:
		f.Reading.Value = limit
	case lost:
		g.Last.Taken, f.Reading.Fault = now-6*time.Second, sensors.Checksum
	case outOfRange:
		f.Reading.Value = unit.Celsius(math.NaN())
	case jumped:
		f.Reading.Value = base - 10
	}
	if s.lifted {
		f.Stage = Lifted
	}
	if s.expired {
		g.Armed = 13 * time.Hour
	}
	if s.long {
		g.OnFor = 5 * time.Hour
	}
	switch s.before {
	case 1:
		g.Marks[NotHeating] = Mark{Tripped, now - time.Minute, now - time.Minute}
	case 2:
		g.Marks[TickLate] = Mark{Cutting, now - time.Minute, now - 3*time.Second}
	}
	g.Now = now - []time.Duration{time.Second, 4 * time.Second, 0}[s.tick]
	return g, f
}

func TestEverySituationIsJudgedAsTheOracleSays(t *testing.T) {
	all := 1
	for _, s := range sizes {
		all *= s
	}
	lit := 0
	for n := range all {
		s := situationOf(n)
		g, f := s.build()
		next, v := sampleLimits().Step(g, f)
		if s.started && s.tick == 2 {
			if v.Permitted != unit.Off || next != g {
				t.Fatalf("time stands still, but %+v", v)
			}
			continue
		}
		want := s.oracle()
		if want.heat {
			lit++
		}
		if (v.Permitted == unit.On) != want.heat {
			t.Fatalf("%+v\npermitted %v, the oracle says %v", s, v.Permitted, want.heat)
		}
		for _, r := range Rules() {
			is := next.Marks[r].State
			should := Quiet
			if want.trip[r.String()] {
				should = Tripped
			} else if want.cut[r.String()] {
				should = Cutting
			}
			if is != should {
				t.Fatalf("%+v\n%v is %d, the oracle says %d", s, r, is, should)
			}
		}
	}
	t.Logf("%d situations, heat in %d", all, lit)
	if lit == 0 {
		t.Error("the oracle never permits heat")
	}
}
