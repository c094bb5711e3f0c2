package rehearse

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"mashward/profile"
	"mashward/sim/fault"
)

// The judge knows the true mash: what a probe that reads 3 K too low costs shows
// in the enzymes, though controller and record saw nothing.
func TestWhatAWrongProbeCostsTheEnzymesIsTold(t *testing.T) {
	good := runSample(t, nil)
	low := runSample(t, fault.Script{{Kind: fault.ProbeOffset, At: fault.Moment{After: time.Minute}, Kelvin: -3}})
	g, l := good.Steps[2].Enzymes, low.Steps[2].Enzymes
	if g == nil || l == nil {
		t.Fatalf("the rest at 63 °C: %v, %v", g, l)
	}
	if g.Cost != nil {
		t.Errorf("a rest that was not too hot cost %+v", g.Cost)
	}
	if l.Cost == nil || l.Cost.Above < 2.5 || l.Cost.Above > 3.5 || l.Cost.Beta.Low < 0.05 {
		t.Errorf("3 K too hot at 63 °C cost %+v", l.Cost)
	}
	if l.BetaLeft.Mid >= g.BetaLeft.Mid || low.Enzymes.AtEnd.Sugar.Mid >= good.Enzymes.AtEnd.Sugar.Mid {
		t.Errorf("too hot: beta %v, sugar %v; as asked for: %v, %v", l.BetaLeft, low.Enzymes.AtEnd.Sugar, g.BetaLeft, good.Enzymes.AtEnd.Sugar)
	}
}

func TestTheRehearsalAgreesWithThePlanOnTheEnzymes(t *testing.T) {
	p, rig, d := sample(t, "rye-four-rests.yaml", "yard-kettle.yaml")
	r := Run{Profile: p, Plan: d, Kettle: asBuilt(t, p, rig, nil)}
	result, err := r.Go()
	if err != nil {
		t.Fatal(err)
	}
	planned, known := d.Enzymes().State().Estimate()
	if went := result.Enzymes.AtEnd; !known || went == nil || went.Sugar.Mid < planned.Sugar.Mid-0.03 || went.Sugar.Mid > planned.Sugar.Mid+0.03 {
		t.Errorf("planned %+v, went %+v", planned.Sugar, went)
	}
	for _, s := range result.Steps {
		rest := s.kind == profile.MashIn || s.kind == profile.Rest || s.kind == profile.MashOut
		if rest != (s.Enzymes != nil) {
			t.Errorf("%s: %v", s.Kind, s.Enzymes)
		}
	}
	var text bytes.Buffer
	if err := Text(&text, d, result); err != nil || !strings.Contains(text.String(), "Mash enzymes over the true mash: an estimate") {
		t.Errorf("%v:\n%s", err, text.String())
	}
}

func TestWaterAloneHasNoEnzymes(t *testing.T) {
	p, rig, d := sample(t, "water-only.yaml", "yard-kettle.yaml")
	r := Run{Profile: p, Plan: d, Kettle: asBuilt(t, p, rig, nil)}
	result, err := r.Go()
	if err != nil || result.Enzymes != nil {
		t.Errorf("%+v, %v", result.Enzymes, err)
	}
}
