package tune_test

import (
	"flag"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"mashward/controller/observer"
	"mashward/controller/tune"
	"mashward/controller/unit"
	"mashward/profile/heat"
	"mashward/sim"
	"mashward/sim/kettles"
)

var night = flag.Bool("night", false, "run the campaigns in full: 300 good tests, 1,000 damaged ones")

// Figures of the test as it is run.
const (
	restSeconds   = 60
	quietSeconds  = 900
	riseKelvin    = 8
	fairKelvin    = 6 // is enough for a slow kettle, after:
	enoughSeconds = 17 * 60
	waitSeconds   = 300 // before it, for the water to come to rest
)

// sampler runs the test on a plant, with something that may spoil it.
type sampler struct {
	bench   *sim.Bench
	second  int // since the record began
	heating bool
	spoil   func(s *sampler)
	out     []tune.Sample
}

func (s *sampler) tick(on bool) float64 {
	if s.spoil != nil {
		s.spoil(s)
	}
	s.bench.Pump().Hold(unit.On, 3*time.Second)
	s.bench.Element().Hold(unit.RelayOf(on), 3*time.Second)
	s.bench.Next()
	r := s.bench.Latest()
	s.out = append(s.out, tune.Sample{On: s.bench.Applied() == unit.On, Reading: r.Value, Has: r.Good()})
	s.second++
	return float64(r.Value)
}

// waterTest is one test on the kettle of a seed: a minute of rest, full power
// for 8 K, fifteen minutes of quiet, pump on.
func waterTest(k kettles.Kettle, seed uint64, spoil func(*sampler)) []tune.Sample {
	plant := sim.New(k.Plant, k.Load, seed)
	plant.Warm(k.Plant.Site.Room + 4)
	s := &sampler{bench: sim.NewBench(plant, nil, seed)}
	from := 0.0
	for range waitSeconds {
		from = s.tick(false)
	}
	s.out, s.second, s.spoil = nil, 0, spoil
	for range restSeconds {
		s.tick(false)
	}
	s.heating = true
	for n, now := 0, from; now < from+riseKelvin && !(n >= enoughSeconds && now >= from+fairKelvin) && n < 5400; n++ {
		now = s.tick(true)
	}
	s.heating = false
	for range quietSeconds {
		s.tick(false)
	}
	return s.out
}

func known(k kettles.Kettle) tune.Known {
	load := heat.WaterCapacity(k.Load.Water) + k.Declared.Vessel
	return tune.Known{Power: k.Declared.Power, Load: load, Loss: k.Declared.Loss, Room: k.Declared.Room}
}

// wrongBy is how far power over capacity is from the plant's own.
func wrongBy(k kettles.Kettle, r tune.Result) float64 {
	c := float64(heat.WaterCapacity(k.Load.Water)) + float64(k.Plant.Vessel.Capacity) + float64(k.Plant.Element.Capacity)
	truth := float64(k.Plant.Element.Power) / c
	return math.Abs(float64(r.Model.Power)/float64(known(k).Load)/truth - 1)
}

// TestGoodWaterTestsAreAcceptedAndRight: at least 97 of 100 good tests on
// random kettles are accepted, power over capacity is within 3 %, and none
// takes longer than 35 minutes.
func TestGoodWaterTestsAreAcceptedAndRight(t *testing.T) {
	n := 60
	if *night {
		n = 300
	}
	var wrong []float64
	refused, longest, left := 0, 0, 0.0
	for seed := range uint64(n) {
		k := kettles.Random(seed)
		samples := waterTest(k, seed, nil)
		longest = max(longest, len(samples))
		r := tune.Identify(samples, known(k))
		if !r.Accepted() {
			refused++
			t.Logf("kettle %d: refused: %v (residual %.3f, noise %.3f)", seed, r.Reason, float64(r.Residual), float64(r.Noise))
			continue
		}
		wrong = append(wrong, wrongBy(k, r))
		left = max(left, float64(r.Residual/max(r.Noise, unit.Kelvin(0.02))))
	}
	slices.Sort(wrong)
	t.Logf("%d tests, %d refused; power over capacity off by %.2f %% (median), %.2f %% (worst); longest %d s; the fit leaves %.2f of the noise at most",
		n, refused, 100*wrong[len(wrong)/2], 100*wrong[len(wrong)-1], longest, left)
	// Two masses are enough for water: a third would have to explain more than
	// a fifth beyond the noise (0.02 K at least, what a staircase hides).
	if left > 1.2 {
		t.Errorf("a fit leaves %.2f of the noise: two masses do not explain that kettle", left)
	}
	if float64(refused) > 0.03*float64(n) {
		t.Errorf("%d of %d good tests refused; want at most 3 %%", refused, n)
	}
	if worst := wrong[len(wrong)-1]; worst > 0.03 {
		t.Errorf("power over capacity off by %.1f %%; want at most 3 %%", 100*worst)
	}
	if longest > 35*60 {
		t.Errorf("a test took %d s; want at most 2100 s", longest)
	}
}

// TestNoDamagedWaterTestIsStored: of damaged tests, none is accepted with power
// over capacity off by more than 10 %.
func TestNoDamagedWaterTestIsStored(t *testing.T) {
	n := 132
	if *night {
		n = 1000
	}
	kinds := damages()
	accepted := map[string]int{}
	bad := 0
	for i := range n {
		d := kinds[i%len(kinds)]
		seed := uint64(1000 + i)
		r := rand.New(rand.NewPCG(seed, 7))
		k := kettles.Random(seed)
		var spoil func(*sampler)
		if d.spoil != nil {
			spoil = d.spoil(r)
		}
		samples := waterTest(k, seed, spoil)
		if d.record != nil {
			samples = d.record(r, samples)
		}
		result := tune.Identify(samples, known(k))
		if !result.Accepted() {
			continue
		}
		accepted[d.name]++
		if off := wrongBy(k, result); off > 0.1 {
			bad++
			t.Errorf("kettle %d, %s: accepted with power over capacity off by %.0f %% (residual %.3f, noise %.3f)", seed, d.name, 100*off, float64(result.Residual), float64(result.Noise))
		}
	}
	t.Logf("%d damaged tests, %d bad ones accepted (95 %% bound %.1f %% of such tests); harmless and accepted: %v", n, bad, 300/float64(n), accepted)
}

// TestAVolumeDeclaredWronglyIsNamed: power over capacity comes out right all the
// same, and the contradiction with the declared power shows.
func TestAVolumeDeclaredWronglyIsNamed(t *testing.T) {
	k := kettles.Random(3)
	samples := waterTest(k, 3, nil)
	wrong := known(k)
	wrong.Load = heat.WaterCapacity(k.Load.Water*1.3) + k.Declared.Vessel
	r := tune.Identify(samples, wrong)
	if !r.Accepted() {
		t.Fatalf("refused: %v", r.Reason)
	}
	if r.Contradiction < 1.2 || r.Contradiction > 1.4 {
		t.Errorf("found over declared power %.2f; want about 1.3", r.Contradiction)
	}
}

// TestItsOwnModelComesBack: on a record of its own model without noise the
// figures that matter come back within 1 %.
func TestItsOwnModelComesBack(t *testing.T) {
	m := observer.Model{
		Power: 2850, Element: 9 * time.Second, Heated: 40e3, Mash: 70e3, Exchange: 1700, Loss: 8, Room: 18,
		Probe: 12 * time.Second, Delay: 4 * time.Second,
	}
	duty := make([]float64, 2200)
	for i := 60; i < 400; i++ {
		duty[i] = 1
	}
	out := make([]float64, len(duty))
	m.Answer(18, duty, nil, time.Second, out)
	samples := make([]tune.Sample, len(duty))
	for i := range samples {
		samples[i] = tune.Sample{On: duty[i] == 1, Reading: unit.Celsius(out[max(0, i-4)]), Has: true}
	}
	r := tune.Identify(samples, tune.Known{Power: 3000, Load: 110e3, Loss: 7, Room: 18})
	if !r.Accepted() {
		t.Fatalf("refused: %v", r.Reason)
	}
	for _, row := range []struct {
		name      string
		got, want float64
		within    float64
	}{
		{"power", float64(r.Model.Power), 2850, 0.01},
		{"loss", float64(r.Model.Loss), 8, 0.05},
		{"lag", r.Model.Lag().Seconds(), 25, 0.08},
	} {
		if math.Abs(row.got/row.want-1) > row.within {
			t.Errorf("%s comes back as %.4g; want %.4g within %.0f %%", row.name, row.got, row.want, 100*row.within)
		}
	}
}

// TestRecordsThatTellNothingAreRefusedWithAReason.
func TestRecordsThatTellNothingAreRefusedWithAReason(t *testing.T) {
	k := kettles.Random(5)
	good := waterTest(k, 5, nil)
	flat := slices.Clone(good)
	for i := range flat {
		flat[i].Reading = 20
	}
	restless := slices.Clone(good)
	for i := range 60 {
		restless[i].Reading = unit.Celsius(float64(restless[i].Reading) - 0.02*float64(60-i))
	}
	for _, row := range []struct {
		name    string
		samples []tune.Sample
		known   tune.Known
		want    tune.Reason
	}{
		{"nothing", nil, known(k), tune.TooShort},
		{"a minute", good[:60], known(k), tune.TooShort},
		{"nothing warmed", flat, known(k), tune.TooLittle},
		{"water that was warming already", restless, known(k), tune.Restless},
		{"no power declared", good, tune.Known{Load: 1e5, Loss: 5}, tune.Impossible},
	} {
		if r := tune.Identify(row.samples, row.known); r.Reason != row.want {
			t.Errorf("%s: %v; want %v", row.name, r.Reason, row.want)
		}
	}
}
