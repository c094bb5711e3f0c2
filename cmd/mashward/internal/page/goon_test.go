package page

import (
	"context"
	"net/http"
	"testing"
	"time"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
	"mashward/profile"
)

// cutOff is a bench whose daemon has gone in the first rest, and another that
// came up on its records.
func cutOff(t *testing.T) *bench {
	t.Helper()
	first := newBench(t)
	first.begin("rye-four-rests")
	first.stage(profile.Strike, controller.Heat)
	first.end()
	b := newBench(t, func(o *daemon.Options, _ *pot) { o.Records = first.records })
	b.until("a tick", func(s *daemon.Snapshot) bool { return s.Number > 1 })
	return b
}

func TestABatchThatWasCutOffIsShownAndAsksForEveryStatement(t *testing.T) {
	b := cutOff(t)
	_, page := b.get("/")
	holds(t, page, "This batch was cut off", "call an electrician", "do not reset again and again", "45 °C", `href="/go-on"`, `href="/end"`, "not heating; still live")
	lacks(t, page, `name="wish" value="take-up`, "Begin a batch")
	status, form := b.get("/go-on")
	if status != http.StatusOK {
		t.Fatal(status)
	}
	holds(t, form, "call an electrician", "Nobody knows what happened meanwhile", `name="litres"`, `name="bag"`, `name="valve"`, `name="rcd"`)
	id := b.daemon.Latest().Batch.ID
	all := map[string]string{"batch": id, "litres": "26", "bag": "yes", "valve": "yes", "rcd": "yes"}
	post := func(change, to string) (int, string, string) {
		var pairs []string
		for k, v := range all {
			if k == change {
				v = to
			}
			pairs = append(pairs, k, v)
		}
		return b.post("/go-on", pairs...)
	}
	for change, to := range map[string]string{"litres": "12", "bag": "no", "valve": "", "rcd": "no"} {
		if status, _, body := post(change, to); status != http.StatusUnprocessableEntity {
			t.Errorf("%s %q: %d", change, to, status)
		} else {
			holds(t, body, "It does not go on")
		}
	}
	if status, to, _ := post("batch", "another"); status != http.StatusSeeOther || to != "/?said="+codeOld {
		t.Errorf("another batch: %d %s", status, to)
	}
	if m := b.daemon.Latest().Decision.Mode; m != controller.Offered {
		t.Fatalf("it is %v", m)
	}
	if status, to, _ := post("", ""); status != http.StatusSeeOther || to != "/?said="+codeGoesOn {
		t.Errorf("%d %s", status, to)
	}
	if m := b.daemon.Latest().Decision.Mode; m != controller.Running {
		t.Errorf("it is %v", m)
	}
	if status, to, _ := b.post("/go-on", "batch", id); status != http.StatusSeeOther || to != "/?said="+codeOld {
		t.Errorf("once more: %d %s", status, to)
	}
	_, page = b.get("/")
	lacks(t, page, "This batch was cut off", `href="/go-on"`)
}

// On another rig file it cannot go on: the page says from where it differs, how to
// go on all the same, and that the batch can be ended.
func TestOnAnotherRigThePageSaysBothWaysOut(t *testing.T) {
	first := newBench(t)
	first.begin("rye-four-rests")
	first.stage(profile.Strike, controller.Heat)
	first.end()
	b := newBench(t, func(o *daemon.Options, _ *pot) {
		o.Records, o.RigText = first.records, append([]byte("# corrected\n"), o.RigText...)
	})
	b.until("a tick", func(s *daemon.Snapshot) bool { return s.Number > 1 })
	id := b.daemon.Latest().Batch.ID
	for _, where := range []string{"/", "/go-on"} {
		_, page := b.get(where)
		holds(t, page, "it differs from line 1 on", "mashward record rig "+id+".batch", "start mashward again", "or end the batch")
		lacks(t, page, `name="litres" inputmode="decimal" autocomplete="off" size="6" required`)
	}
	_, page := b.get("/go-on")
	holds(t, page, "It cannot go on as it is.", `href="/end"`)
}

func TestABatchThatWasCutOffCanBeEndedOnThePage(t *testing.T) {
	b := cutOff(t)
	_, page := b.get("/end")
	holds(t, page, "End this batch for good?", "could go on")
	b.post("/do", "batch", b.daemon.Latest().Batch.ID, "wish", "end")
	if m := b.daemon.Latest().Decision.Mode; m != controller.Stopped {
		t.Errorf("it is %v", m)
	}
}

// Where no batch is offered there is nothing to go on with, and no heat cut is
// gone on over.
func TestNothingGoesOnThatIsNotOffered(t *testing.T) {
	b := newBench(t)
	if status, to, _ := b.post("/go-on", "batch", "x"); status != http.StatusSeeOther || to != "/?said="+codeOld {
		t.Errorf("%d %s", status, to)
	}
	if status, _ := b.get("/go-on"); status != http.StatusSeeOther {
		t.Error(status)
	}
	if _, err := b.daemon.GoOn(context.Background(), "", daemon.Statements{}); err == nil {
		t.Error("it goes on")
	}
}

// Heat disabled by a crash loop is no fault of the rig file.
func TestACrashLoopIsToldOnThePage(t *testing.T) {
	const why = "Heat is disabled: mashward was started again and again."
	b := newBench(t, func(o *daemon.Options, _ *pot) { o.Kettle, o.Disabled = nil, why })
	_, page := b.get("/")
	holds(t, page, why)
	lacks(t, page, "rig file has faults", "What is wrong with it")
}

func TestTheOutageAfterWhichItMayGoOnIsChosenWhileArming(t *testing.T) {
	b := newBench(t)
	if _, _, err := b.daemon.Rehearse("rye-four-rests"); err != nil {
		t.Fatal(err)
	}
	_, page := b.get("/profile/rye-four-rests/arm")
	holds(t, page, `name="resume"`)
	arm := func(minutes string) int {
		status, _, _ := b.post("/profile/rye-four-rests/arm", "hash", b.hash("rye-four-rests"), "litres", "26", "bag", "yes", "valve", "yes", "rcd", "yes", "resume", minutes)
		return status
	}
	for minutes, want := range map[string]int{"": 303, "0": 303, "30": 303, "31": 422, "-1": 422, "ten": 422, "999": 422} {
		if got := arm(minutes); got != want {
			t.Errorf("%q: %d, want %d", minutes, got, want)
		}
	}
	if minutes(" 12 ") != 12*time.Minute {
		t.Error(minutes(" 12 "))
	}
}
