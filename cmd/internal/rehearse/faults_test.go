package rehearse

import (
	"testing"
	"time"

	"mashward/sim/fault"
)

// at63 is five minutes into the rest at 63 °C.
var at63 = fault.Moment{OfStep: true, Step: 2, After: 5 * time.Minute}

// struck makes a fault with its default values at a moment.
func struck(k fault.Kind, at fault.Moment, lasting time.Duration) fault.Fault {
	f := fault.Default(k)
	f.At = at
	if lasting > 0 {
		f.For = lasting
	}
	return f
}

// TestEveryFaultHasItsEnd injects each fault into the rest at 63 °C and holds
// the batch to how it must end. What no software can see in a rest is listed as
// it is: the batch goes on, and the row says so.
func TestEveryFaultHasItsEnd(t *testing.T) {
	for _, row := range []struct {
		kind    fault.Kind
		lasting time.Duration
		outcome string
		reason  string // "" = not looked at
		trip    string // "" = none
		cut     string // "" = none
	}{
		{kind: fault.ProbeOpen, outcome: "held", reason: "probe lost", trip: "stale", cut: "stale"},
		{kind: fault.ProbeOpen, lasting: 30 * time.Second, outcome: "complete", cut: "stale"},
		{kind: fault.ProbeShorted, outcome: "held", reason: "probe lost", trip: "stale", cut: "stale"},
		{kind: fault.ProbeCRC, outcome: "held", reason: "probe lost", trip: "stale", cut: "stale"},
		{kind: fault.ProbePowerOn, outcome: "held", reason: "probe lost", trip: "stale", cut: "stale"},
		{kind: fault.ProbePowerOn, lasting: 3 * time.Second, outcome: "complete"},
		{kind: fault.ProbeNoise, lasting: 10 * time.Minute, outcome: "complete"},
		{kind: fault.ProbeSpike, lasting: 10 * time.Minute, outcome: "complete", cut: "implausible"},
		{kind: fault.RelayWelded, outcome: "held", reason: "heating while off", trip: "heating-while-off"},
		{kind: fault.TickLate, outcome: "complete", cut: "tick-late"},
		{kind: fault.PowerCut, outcome: "held", reason: "power cut"},
		{kind: fault.ClockStep, outcome: "complete"},
		{kind: fault.StorageFull, outcome: "complete"},
		{kind: fault.StorageError, outcome: "complete"},
		{kind: fault.LidOff, outcome: "complete"},
		// Five litres of cold water at the probe look like air, for as long as they
		// take to mix.
		{kind: fault.ColdWater, outcome: "complete", cut: "probe-out"},
		{kind: fault.SupplySag, outcome: "complete"},
		{kind: fault.ElementHalf, outcome: "complete"},
		{kind: fault.ProbeStuck, lasting: 3 * time.Minute, outcome: "held", reason: "probe stuck", trip: "probe-stuck"},
		{kind: fault.ProbeDrift, lasting: 10 * time.Minute, outcome: "complete"},
		{kind: fault.ProbeOffset, lasting: 10 * time.Minute, outcome: "complete"},
		// A pump that stops in a quiet rest, and runs again before the next heat-up,
		// shows nowhere; one that stays off is found in that heat-up.
		{kind: fault.PumpStopped, lasting: 5 * time.Minute, outcome: "complete"},
		{kind: fault.PumpStopped, outcome: "held", reason: "pump stopped", trip: "pump-stopped"},
		// What a dry element has stored comes out when it is covered again, and shows if
		// heat happens to be off then: TestADryElementCoveredAgainShows counts how often.
		{kind: fault.ElementDry, lasting: 8 * time.Minute, outcome: "held", reason: "heating while off", trip: "heating-while-off"},
		{kind: fault.ProbeOut, lasting: 2 * time.Minute, outcome: "held", reason: "probe out", trip: "probe-out", cut: "probe-out"},
		{kind: fault.ProbeOut, lasting: 30 * time.Second, outcome: "complete", cut: "probe-out"},
		{kind: fault.RelayOpen, lasting: 10 * time.Minute, outcome: "held", reason: "not heating", trip: "not-heating"},
		// At the outlet a kettle that is nearly empty heats as one whose pump has
		// stopped; the sentence names both.
		{kind: fault.LowVolume, outcome: "held", reason: "pump stopped", trip: "pump-stopped"},
		{kind: fault.Drained, lasting: 2 * time.Minute, outcome: "aborted", reason: "nobody came"},
	} {
		t.Run(row.kind.String()+" for "+row.lasting.String(), func(t *testing.T) {
			r := runSample(t, fault.Script{struck(row.kind, at63, row.lasting)})
			if r.Outcome != row.outcome || row.reason != "" && r.Reason != row.reason {
				t.Errorf("%s (%s); want %s (%s)", r.Outcome, r.Reason, row.outcome, row.reason)
			}
			wantOnly(t, "trip", tripIDs(r), row.trip)
			wantOnly(t, "cut", cutIDs(r), row.cut)
		})
	}
}

func tripIDs(r Result) (ids []string) {
	for _, x := range r.Trips {
		ids = append(ids, x.ID)
	}
	return ids
}

func cutIDs(r Result) (ids []string) {
	for _, x := range r.Cuts {
		ids = append(ids, x.ID)
	}
	return ids
}

// wantOnly demands that id is among the ids and nothing else is.
func wantOnly(t *testing.T, what string, ids []string, id string) {
	t.Helper()
	if id != "" && len(ids) == 0 {
		t.Errorf("no %s; want %s", what, id)
	}
	for _, got := range ids {
		if got != id {
			t.Errorf("%s %q; want %q only", what, got, id)
		}
	}
}

// TestReadingLostCutsWithinFiveSeconds: the cut comes at most 5 s after the
// last good reading, and a batch that is held by it ends an hour later.
func TestReadingLostCutsWithinFiveSeconds(t *testing.T) {
	const lost = 3000
	r := runSample(t, fault.Script{struck(fault.ProbeOpen, fault.Moment{After: lost * time.Second}, 0)})
	if len(r.Cuts) == 0 || r.Cuts[0].From-lost > 6 {
		t.Fatalf("cuts %v; want one at most 6 s after %d s", r.Cuts, lost)
	}
	if len(r.Trips) == 0 || r.Trips[0].At-lost > 70 {
		t.Fatalf("trips %v; want one at most 70 s after %d s", r.Trips, lost)
	}
	if rest := r.Duration - r.Trips[0].At; rest < 3590 || rest > 3610 {
		t.Errorf("ended %.0f s after the trip; want 3600", rest)
	}
}
