package page

import (
	"encoding/json"
	"strings"
	"testing"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/view"
	"mashward/controller"
	"mashward/profile"
)

// weak is a kettle whose element has 15 % less than the rig declares.
func weak(o *daemon.Options, p *pot) {
	params := o.Plant
	params.Element.Power = 2550
	p.Simulated = daemon.NewSimulated(o.Rig, params, 0)
}

// After a batch the page says which kettle it was, and how that is taken over;
// it has no button for it. Before that there is not a word of it.
func TestTheKettleThatABatchShowedIsSuggestedOnThePage(t *testing.T) {
	b := newBench(t, weak)
	b.begin("rye-four-rests")
	b.until("pour", func(s *daemon.Snapshot) bool { return s.Decision.Prompt == controller.AskPour })
	b.press(controller.Command{Wish: controller.PouringNow})
	b.stage(profile.MashIn, controller.Pour)
	b.press(controller.Command{Wish: controller.GrainIn})
	_, page := b.get("/")
	lacks(t, page, "suggest", "What the strike heat-up showed")
	b.press(controller.Command{Wish: controller.Stop})
	b.press(controller.Command{Wish: controller.End})
	b.until("a suggestion", func(s *daemon.Snapshot) bool { return s.Learnt != nil })
	_, page = b.get("/")
	state := view.Of(b.daemon.Latest())
	holds(t, page, "What the strike heat-up showed", "Another kettle than this batch was run with.", "a temperature cannot tell which", "Nothing has been changed.",
		"mashward tune --rig yard-kettle.yaml --from ", state.Batch.ID+".batch --out yard-kettle.tuning.yaml", `data-key="`+state.Batch.ID+`/stopped/suggestion"`)
	section := page[strings.Index(page, `<section id="suggestion"`):]
	section = section[:strings.Index(section, "</section>")]
	lacks(t, section, "<button", "<form", "<a ")
	if text, err := json.Marshal(state.Batch); err != nil || !strings.Contains(string(text), `"suggestion":{"text":"The strike water warmed`) {
		t.Errorf("the interface says %s, %v", text, err)
	}
}
