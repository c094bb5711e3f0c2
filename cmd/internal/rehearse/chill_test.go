package rehearse

import (
	"testing"

	"mashward/cmd/internal/config"
	"mashward/sim"
	"mashward/sim/fault"
)

// TestAChillEndsWhereItWasToEnd: the reading is ahead of the wort away from the
// chiller, and a batch that ends by it shall have chilled all of the wort, to
// the 0.3 K of "reached".
func TestAChillEndsWhereItWasToEnd(t *testing.T) {
	for profile, rig := range map[string]string{
		"rye-four-rests.yaml": "yard-kettle.yaml",
		"late-hops.yaml":      "yard-kettle.yaml",
		"one-rest.yaml":       "yard-kettle.yaml",
		"small-batch.yaml":    "small-pot.yaml",
	} {
		p, r, d := sample(t, profile, rig)
		kettle := &Simulated{Bench: sim.NewBench(sim.New(r.Plant(), config.Load(p), 1), fault.New(nil, FromStart(p)...), 1)}
		result, err := (&Run{Profile: p, Plan: d, Kettle: kettle}).Go()
		if err != nil {
			t.Fatal(err)
		}
		last := result.Steps[len(result.Steps)-1]
		if last.Kind != "chill" || last.Reached == nil {
			t.Errorf("%s ends with %s %v, reached at %v s: the wort is not as cold as the batch says", profile, last.Kind, result.Outcome, last.Reached)
		}
	}
}
