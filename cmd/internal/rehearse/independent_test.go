package rehearse

import (
	"bufio"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"mashward/deploy/yardstick"
)

// TestAKettleInAnotherLanguageIsHeldAsWell rehearses the sample brew on a plant
// that shares no line with the simulator: written in Python, with another
// structure, at the far end of a unix socket. Nobody tuned anything on it.
func TestAKettleInAnotherLanguageIsHeldAsWell(t *testing.T) {
	python, err := exec.LookPath("python3")
	if err != nil {
		yardstick.Missing(t, "python3 is not here, the plant in another language is not rehearsed on: apt-get install python3")
	}
	socket := filepath.Join(t.TempDir(), "plant")
	plant := exec.Command(python, "../../../deploy/reference/lockstep.py", socket)
	out, err := plant.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	plant.Stderr = os.Stderr
	if err := plant.Start(); err != nil {
		t.Fatal(err)
	}
	if _, err := bufio.NewReader(out).ReadString('\n'); err != nil {
		t.Fatal(err)
	}
	p, rig, d := sample(t, "rye-four-rests.yaml", "yard-kettle.yaml")
	kettle, err := Dial(socket, Load{Water: p.Water, Grain: p.Grain.Mass, GrainTemperature: p.Grain.Temperature}, rig.Element.Power)
	if err != nil {
		t.Fatal(err)
	}
	r := Run{Profile: p, Plan: d, Kettle: kettle}
	began := time.Now()
	result, err := r.Go()
	kettle.Close()
	if err != nil {
		t.Fatal(err)
	}
	if err := plant.Wait(); err != nil {
		t.Errorf("the plant found fault with what it was told: %v", err)
	}
	t.Logf("%.0f s in lock-step with Python: %.0f times real time", result.Duration, result.Duration/time.Since(began).Seconds())
	if result.Outcome != "complete" || len(result.Trips)+len(result.Cuts) > 0 {
		t.Fatalf("%s (%s), trips %v, cuts %v", result.Outcome, result.Reason, result.Trips, result.Cuts)
	}
	for _, s := range result.Steps[2:5] {
		t.Logf("%s %.0f °C: reached after %.0f s (planned %.0f), overshoot %.2f K, RMS %.3f K", s.Kind, s.target, *s.Reached, s.PlannedHeat, *s.Overshoot, *s.HoldRMS)
		if *s.Overshoot > 0.3 || *s.HoldRMS > 0.15 || *s.Reached > 1.25*s.PlannedHeat {
			t.Errorf("step %d: overshoot %.2f K, RMS %.3f K, reached after %.0f s; want at most 0.3 K, 0.15 K, 1.25 times the plan", s.Index, *s.Overshoot, *s.HoldRMS, *s.Reached)
		}
	}
}
