package page

import (
	"os"
	"path/filepath"
	"testing"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/profile"
)

const clearButton = `value="clear-trip" data-changes data-can>`

// What has latched is cleared on the page also when its batch is over, and when
// there is none after a restart.
func TestWhatHasLatchedCanBeClearedWithoutABatch(t *testing.T) {
	b := newBench(t)
	b.begin("rye-four-rests")
	b.stage(profile.Strike, controller.Heat)
	_, page := b.get("/")
	lacks(t, page, clearButton)
	b.pot.blind.Store(true)
	b.until("tripped", func(s *daemon.Snapshot) bool { return s.Decision.Prompt == controller.AskLookAtFault })
	_, page = b.get("/")
	lacks(t, page, clearButton) // the prompt asks
	id := b.daemon.Latest().Batch.ID
	b.post("/do", "batch", id, "wish", "end")
	b.pot.blind.Store(false)
	_, page = b.get("/")
	holds(t, page, clearButton)
	if _, to, _ := b.post("/do", "batch", "another", "wish", "clear-trip"); to != "/?said="+codeOld {
		t.Errorf("of another batch: %s", to)
	}
	for range 50 { // it stays cut as long as its cause stands
		if b.post("/do", "batch", id, "wish", "clear-trip"); b.daemon.Latest().Trip == interlock.NoRule {
			break
		}
	}
	if r := b.daemon.Latest().Trip; r != interlock.NoRule {
		t.Errorf("still latched: %v", r)
	}
	_, page = b.get("/")
	lacks(t, page, clearButton)
}

func TestWhatHadLatchedBeforeARestartIsClearedOnThePage(t *testing.T) {
	latched := filepath.Join(t.TempDir(), "latched")
	if err := os.WriteFile(latched, []byte("stale\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	b := newBench(t, func(o *daemon.Options, _ *pot) { o.Latched = latched })
	b.until("a tick", func(s *daemon.Snapshot) bool { return s.Number > 1 })
	_, page := b.get("/")
	holds(t, page, clearButton)
	if _, to, _ := b.post("/do", "batch", "", "wish", "pause"); to != "/?said="+codeOld {
		t.Errorf("a pause without a batch: %s", to)
	}
	b.post("/do", "batch", "", "wish", "clear-trip")
	b.until("cleared", func(s *daemon.Snapshot) bool { return s.Trip == interlock.NoRule })
}
