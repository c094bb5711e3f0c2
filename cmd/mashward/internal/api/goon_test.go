package api

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller/unit"
)

// toGoOn is the body of go-on.
func toGoOn(batch string, litres float64) string {
	return fmt.Sprintf(`{"batch": %q, "litres": %g, "bag_clear": true, "valve_shut": true, "rcd_tested": true}`, batch, litres)
}

// again is a daemon on the records of one that has gone.
func (b *bench) again() {
	b.Helper()
	b.end()
	next := newBench(b.TB, settings{records: b.records}, b.folder)
	*b = *next
	b.until("a tick", func(s *daemon.Snapshot) bool { return s.Number > 1 })
}

func TestABatchThatWasCutOffGoesOnWithFourStatements(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		no(b, b.ask("POST", "go-on", toGoOn("x", 25)), http.StatusConflict, "not-offered")
		b.run("warm")
		id := b.state().Batch.ID
		no(b, b.ask("POST", "go-on", toGoOn(id, 25)), http.StatusConflict, "not-offered")
		b.again()
		s := b.state()
		if s.Batch == nil || s.Batch.ID != id || s.Batch.State != "offered" || s.Heating || s.Pump || s.Offer == nil || !s.Offer.CanGoOn {
			t.Fatalf("batch %+v, offer %+v", s.Batch, s.Offer)
		}
		if s.Prompt == nil || s.Prompt.ID != "go-on-or-end" || s.Prompt.Button != "" || !slices.Contains(s.Can, "end") || slices.Contains(s.Can, "resume") {
			t.Errorf("prompt %+v, can %v", s.Prompt, s.Can)
		}
		if !slices.Contains(s.Offer.Texts, say.RCD) || !slices.Contains(s.Offer.Texts, say.HotAfter) || s.Offer.Stopped != nil {
			t.Errorf("%+v", s.Offer)
		}
		for _, wish := range []string{"resume", "pause", "skip"} {
			no(b, b.ask("POST", "command", `{"wish": "`+wish+`"}`), http.StatusUnprocessableEntity, "refused")
		}
		for _, wish := range []string{"take-up", "take-up-alone"} {
			no(b, b.ask("POST", "command", `{"wish": "`+wish+`"}`), http.StatusBadRequest, "bad-request")
		}
		good := toGoOn(id, 25)
		no(b, b.ask("POST", "go-on", toGoOn("another", 25)), http.StatusConflict, "not-offered")
		no(b, b.ask("POST", "go-on", toGoOn(id, 20)), http.StatusUnprocessableEntity, "unstated")
		for _, key := range []string{"bag_clear", "valve_shut", "rcd_tested"} {
			no(b, b.ask("POST", "go-on", strings.Replace(good, `"`+key+`": true`, `"`+key+`": false`, 1)), http.StatusUnprocessableEntity, "unstated")
			no(b, b.ask("POST", "go-on", strings.Replace(good, `, "`+key+`": true`, ``, 1)), http.StatusBadRequest, "bad-request")
		}
		if s := b.state(); s.Heating || s.Batch.State != "offered" {
			t.Errorf("%+v", s.Batch)
		}
		if got := into[Started](b, b.post("go-on", good, 200)); got.Batch != id {
			t.Errorf("%+v", got)
		}
		b.until("heat", func(s *daemon.Snapshot) bool { return s.Heating == unit.On })
		if s := b.state(); s.Offer != nil || s.Batch.State != "running" {
			t.Errorf("%+v, %+v", s.Offer, s.Batch)
		}
	})
}

func TestAnOfferedBatchCanBeEnded(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		b.run("warm")
		b.again()
		hash := into[ShownProfile](b, b.get("profiles/warm")).Hash
		b.rehearse("warm")
		no(b, b.ask("POST", "arm", toArm("warm", hash, 25)), http.StatusConflict, "batch-under-way")
		b.post("command", `{"wish": "end"}`, 200)
		if s := b.state(); s.Batch.State != "stopped" || s.Offer != nil {
			t.Errorf("%+v", s.Batch)
		}
		b.again()
		if s := b.state(); s.Batch != nil || s.Offer != nil {
			t.Errorf("after its end it is offered again: %+v", s.Batch)
		}
	})
}

func TestGoingOnWithALoopThatHangsOrHasEnded(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		b.run("warm")
		b.again()
		good := toGoOn(b.state().Batch.ID, 25)
		release := b.pan.jammed()
		no(b, b.ask("POST", "go-on", good, "Idempotency-Key: a"), http.StatusGatewayTimeout, "outcome-unknown")
		release()
		b.again()
		b.end()
		no(b, b.ask("POST", "go-on", good), http.StatusServiceUnavailable, "loop-down")
	})
}

func TestHowLongAnOutageABatchMayGoOnAfterIsChosenWithin30Minutes(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		hash := b.rehearse("warm")
		with := func(minutes string) string {
			return strings.Replace(toArm("warm", hash, 25), `{`, `{"resume_minutes": `+minutes+`, `, 1)
		}
		for _, bad := range []string{"-1", "30.5", "1e9", `"5"`} {
			no(b, b.ask("POST", "arm", with(bad)), http.StatusBadRequest, "bad-request")
		}
		b.post("arm", with("30"), 200)
	})
}
