package page

import (
	"net/http"
	"testing"
	"time"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
	"mashward/profile"
)

// TestEachAdditionHasAPressOfItsOwn: on a page of its own; a press that came late
// offers a longer boil there and on the first page, and a second tap does nothing.
func TestEachAdditionHasAPressOfItsOwn(t *testing.T) {
	b := newBench(t)
	if status, _ := b.get("/additions"); status != http.StatusSeeOther {
		t.Errorf("without a batch: %d", status)
	}
	b.write("hops", "profile: Water with hops\nwater: 26 L\nsteps:\n  - {boil: 30 min, additions: [{left: 20 min, add: 28 g bittering hops}, {at: flame-out, add: last hops}]}\n  - {chill: 18 °C}\n")
	b.begin("hops")
	b.stage(profile.Boil, controller.Climb)
	_, now := b.get("/")
	holds(t, now, `href="/additions"`)
	id := b.daemon.Latest().Batch.ID
	_, list := b.get("/additions")
	holds(t, list, "28 g bittering hops", "boil: not called yet", `name="addition" value="2"`)
	lacks(t, list, "extend-by-delay")

	// What answers a prompt may be said before it is asked, in the step of the page.
	if _, to, _ := b.post("/do", "batch", id, "step", "2", "wish", "here-lid-off"); to != "/?said="+codeOld {
		t.Errorf("of another step: %s", to)
	}
	if _, to, _ := b.post("/do", "batch", id, "step", "1", "wish", "here-lid-off"); to != "/?said="+didCode(controller.HereLidOff) {
		t.Fatal(to)
	}
	b.stage(profile.Boil, controller.Door)
	b.press(controller.Command{Wish: controller.HereLidOff})
	b.until("called out, and three minutes more", func(s *daemon.Snapshot) bool {
		d := &s.Decision
		return d.Called == 1 && d.Left < 17*time.Minute
	})
	_, list = b.get("/additions")
	holds(t, list, "called out; nobody has said that it is in")
	if _, to, _ := b.post("/do", "batch", id, "wish", "addition-done", "addition", "1"); to != "/?said="+didCode(controller.AdditionDone) {
		t.Fatal(to)
	}
	if _, to, _ := b.post("/do", "batch", id, "wish", "addition-done", "addition", "1"); to != "/?said="+noCode(controller.WrongStage) {
		t.Errorf("the second tap: %s", to)
	}
	late := b.daemon.Latest().Decision.Late
	if late < 2*time.Minute {
		t.Fatalf("late by %v", late)
	}
	_, list = b.get("/additions")
	holds(t, list, "boil: in", `value="extend-by-delay"`)
	_, now = b.get("/")
	holds(t, now, "It came ", " late.")
	if _, to, _ := b.post("/do", "batch", id, "wish", "extend-by-delay"); to != "/?said="+didCode(controller.ExtendByDelay) {
		t.Error(to)
	}
	if _, to, _ := b.post("/do", "batch", id, "wish", "extend-by-delay"); to != "/?said="+noCode(controller.NothingLate) {
		t.Errorf("the second tap: %s", to)
	}
}
