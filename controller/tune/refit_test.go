package tune_test

import (
	"math"
	"testing"
	"time"

	"mashward/controller/observer"
	"mashward/controller/tune"
	"mashward/controller/unit"
)

// mashRun are spans of a model's own mash: held, heated, held again.
func mashRun(m observer.Model, from unit.Celsius) []tune.Span {
	duty := make([]float64, 480) // 40 min
	for i := range duty {
		switch {
		case i >= 36 && i < 200:
			duty[i] = 1
		default:
			duty[i] = float64(m.Loss) * float64(from-m.Room) / float64(m.Power)
		}
	}
	out := make([]float64, len(duty))
	m.Answer(from, duty, nil, tune.Period, out)
	late := int(m.Delay / tune.Period)
	spans := make([]tune.Span, len(duty))
	for i := range spans {
		// The mean of a span is what the probe shows in its middle.
		now, before := out[max(0, i-late)], out[max(0, i-late-1)]
		spans[i] = tune.Span{Duty: duty[i], Reading: unit.Celsius(0.6*now + 0.4*before), Has: true}
	}
	return spans
}

func someMash() observer.Model {
	return observer.Model{
		Power: 2850, Element: 9 * time.Second, Heated: 35e3, Mash: 85e3, Exchange: 950, Loss: 8, Room: 18,
		Probe: 12 * time.Second, Delay: 5 * time.Second,
	}
}

// TestARefitFindsTheMashItWasNotToldOf: from a model whose power is 12 % off and
// whose mash exchanges heat three times as fast, the true figures come back.
func TestARefitFindsTheMashItWasNotToldOf(t *testing.T) {
	true := someMash()
	told := true
	told.Power *= 1.12
	told.Exchange *= 3
	r := tune.Refit(mashRun(true, 50), told)
	if !r.Inside || r.Residual > 0.01 || r.Before < 10*r.Residual {
		t.Errorf("inside %v, leaves %.4f K, left %.4f K before; want hardly anything left", r.Inside, float64(r.Residual), float64(r.Before))
	}
	for _, row := range []struct {
		name              string
		got, want, within float64
	}{
		{"power", float64(r.Model.Power), 2850, 0.01},
		{"exchange time, s", float64(r.Model.Mash / unit.JoulesPerKelvin(r.Model.Exchange)), 85e3 / 950, 0.1},
		{"capacity", float64(r.Model.Capacity()), 120e3, 1e-9},
		{"lag, s", r.Model.Lag().Seconds(), 26, 0.15},
	} {
		if !(math.Abs(row.got/row.want-1) <= row.within) {
			t.Errorf("%s comes back as %.4g; want %.4g within %.0f %%", row.name, row.got, row.want, 100*row.within)
		}
	}
	if !(r.Doubt < 0.01) {
		t.Errorf("doubt %.3f of a record without noise", r.Doubt)
	}
}

// TestARefitOfNothingIsNoModel: too short a record, one without readings, a model
// that is none.
func TestARefitOfNothingIsNoModel(t *testing.T) {
	whole := mashRun(someMash(), 50)
	deaf := mashRun(someMash(), 50)
	for i := range deaf {
		deaf[i].Has = false
	}
	for name, row := range map[string]struct {
		spans []tune.Span
		model observer.Model
	}{
		"no record": {nil, someMash()}, "four minutes": {whole[:48], someMash()},
		"no readings": {deaf, someMash()}, "no model": {whole, observer.Model{}},
	} {
		if r := tune.Refit(row.spans, row.model); r.Model.Good() || r.Inside {
			t.Errorf("%s: a model came out: %+v", name, r)
		}
	}
}
