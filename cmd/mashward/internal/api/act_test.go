package api

import (
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
	"mashward/controller/unit"
)

func TestARehearsalIsRunAndTold(t *testing.T) {
	files := map[string]string{"big": strings.Replace(warm, "25 L", "90 L", 1)}
	inBubble(t, settings{files: files}, func(b *bench) {
		r := into[Rehearsed](b, b.post("rehearsal", `{"profile": "warm"}`, 200))
		if !r.Passed || r.Result.Outcome != "complete" || len(r.Result.Steps) != 1 || r.Result.Steps[0].Reached == nil {
			b.Errorf("%+v", r)
		}
		no(b, b.ask("POST", "rehearsal", `{"profile": "nowhere"}`), http.StatusNotFound, "no-such-profile")
		no(b, b.ask("POST", "rehearsal", `{"profile": "big"}`), http.StatusUnprocessableEntity, "profile-refused")
		no(b, b.ask("POST", "rehearsal", `{}`), http.StatusBadRequest, "bad-request")
	})
}

func TestTwoRehearsalsAtOnceAreOneTooMany(t *testing.T) {
	inBubble(t, settings{files: map[string]string{"day": day}}, func(b *bench) {
		const askers = 4
		var all sync.WaitGroup
		answers := make([]*httptest.ResponseRecorder, askers)
		for i := range answers {
			all.Go(func() { answers[i] = b.ask("POST", "rehearsal", `{"profile": "day"}`) })
		}
		all.Wait()
		ran := 0
		for _, w := range answers {
			if w.Code == 200 {
				ran++
				continue
			}
			no(b, w, http.StatusTooManyRequests, "rehearsing")
			if w.Header().Get("Retry-After") == "" {
				b.Error("it does not say when")
			}
		}
		if ran == 0 || ran == askers {
			b.Errorf("%d of %d ran", ran, askers)
		}
	})
}

func TestHeatTakesTwoStepsAndFourStatements(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		hash := into[ShownProfile](b, b.get("profiles/warm")).Hash
		no(b, b.ask("POST", "arm", toArm("warm", hash, 25)), http.StatusConflict, "not-rehearsed")
		b.rehearse("warm")
		no(b, b.ask("POST", "arm", toArm("warm", strings.Repeat("0", 32), 25)), http.StatusConflict, "changed")
		no(b, b.ask("POST", "arm", toArm("nowhere", hash, 25)), http.StatusNotFound, "no-such-profile")
		no(b, b.ask("POST", "arm", toArm("warm", hash, 20)), http.StatusUnprocessableEntity, "unstated")
		for _, key := range []string{"bag_clear", "valve_shut", "rcd_tested"} {
			said := strings.Replace(toArm("warm", hash, 25), `"`+key+`": true`, `"`+key+`": false`, 1)
			no(b, b.ask("POST", "arm", said), http.StatusUnprocessableEntity, "unstated")
			unsaid := strings.Replace(toArm("warm", hash, 25), `, "`+key+`": true`, ``, 1)
			no(b, b.ask("POST", "arm", unsaid), http.StatusBadRequest, "bad-request")
		}
		armed := into[Armed](b, b.post("arm", toArm("warm", hash, 25), 200))
		if armed.Valid != 300 || armed.Water != 25 || armed.First == nil || armed.First.Target != 20 || armed.Strike != nil || armed.Finish < armed.First.At+120 {
			b.Errorf("%+v", armed)
		}
		if s := b.state(); s.Heating || s.Batch != nil {
			b.Error("arming alone has begun something")
		}
		no(b, b.ask("POST", "start", `{"nonce": "guessed"}`), http.StatusForbidden, "not-armed")
		start := fmt.Sprintf(`{"nonce": %q}`, armed.Nonce)
		begun := into[Started](b, b.post("start", start, 200))
		if s := b.state(); s.Batch == nil || s.Batch.ID != begun.Batch || s.Batch.State != "running" {
			b.Errorf("%+v", s.Batch)
		}
		no(b, b.ask("POST", "start", start), http.StatusConflict, "arming-used")
		no(b, b.ask("POST", "arm", toArm("warm", hash, 25)), http.StatusConflict, "batch-under-way")
	})
}

func TestAnArmingRunsOut(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		start := b.arm("warm")
		pass(5*time.Minute + time.Second)
		no(b, b.ask("POST", "start", start), http.StatusForbidden, "not-armed")
	})
}

// What the relay does is not known then: it counts as heating, and nothing is armed.
func TestNothingIsArmedWhileARelayDoesNotAnswer(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		start := b.arm("warm")
		b.pan.loose.Store(true)
		b.until("a fault", func(s *daemon.Snapshot) bool { return s.LineFault != nil })
		if s := b.state(); !s.Heating || len(s.Alarms) != 1 || s.Alarms[0].ID != "relay-unknown" {
			b.Errorf("heating %v, alarms %+v", s.Heating, s.Alarms)
		}
		hash := into[ShownProfile](b, b.get("profiles/warm")).Hash
		no(b, b.ask("POST", "arm", toArm("warm", hash, 25)), http.StatusConflict, "relay-unknown")
		no(b, b.ask("POST", "start", start), http.StatusConflict, "relay-unknown")
		b.pan.loose.Store(false)
		b.until("an answer", func(s *daemon.Snapshot) bool { return s.LineFault == nil })
		b.run("warm")
	})
}

func TestATripHasToBeClearedBeforeTheNextBatch(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		b.run("warm")
		b.pan.blind.Store(true)
		b.until("trip", func(s *daemon.Snapshot) bool { return s.Trip != 0 && s.Decision.Mode == controller.Held })
		s := b.state()
		if s.Trip == nil || *s.Trip != "stale" || s.Heating || s.Probe.Fault != "open" || s.Batch.Reason != "probe lost" {
			b.Errorf("%+v", s)
		}
		p := no(b, b.ask("POST", "command", `{"wish": "resume"}`), http.StatusUnprocessableEntity, "refused")
		if !strings.Contains(p.Detail, "clear it first") {
			b.Error(p.Detail)
		}
		b.post("command", `{"wish": "end"}`, 200)
		hash := into[ShownProfile](b, b.get("profiles/warm")).Hash
		no(b, b.ask("POST", "arm", toArm("warm", hash, 25)), http.StatusConflict, "heat-cut-latched")
		b.pan.blind.Store(false)
		pass(30 * time.Second)
		b.post("command", `{"wish": "clear-trip"}`, 200)
		pass(30 * time.Second)
		b.run("warm")
	})
}

func TestACommandIsDoneOrRefusedWithItsReason(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		for wish := range wishes() {
			body := fmt.Sprintf(`{"wish": %q}`, wish)
			switch wish {
			case "extend":
				body = `{"wish": "extend", "minutes": 1}`
			case "added", "volume-is":
				body = fmt.Sprintf(`{"wish": %q, "litres": 24, "celsius": 20}`, wish)
			case "took-out":
				body = `{"wish": "took-out", "litres": 1}`
			case "grain-is", "thermometer-says", "ph-is", "gravity-is":
				body = noteBody[wish]
			case "retarget":
				body = `{"wish": "retarget", "celsius": 19, "step": 1}`
			}
			w := b.ask("POST", "command", body) // idle
			if wish == "clear-trip" || wish == "addition-done" || wish == "pump-off" || wish == "pump-on" {
				continue // these are always possible, or depend on the pump only
			}
			no(b, w, http.StatusUnprocessableEntity, "refused")
		}
		b.run("warm")
		b.post("command", `{"wish": "pause"}`, 200)
		if s := b.state(); s.Batch.State != "paused" {
			b.Error(s.Batch.State)
		}
		b.post("command", `{"wish": "resume"}`, 200)
		before := b.state().Step.Left
		b.post("command", `{"wish": "extend", "minutes": 2.5}`, 200)
		if s := b.state(); s.Step.Left != before+150 {
			b.Errorf("%v left, was %v", s.Step.Left, before)
		}
		no(b, b.ask("POST", "command", `{"wish": "retarget", "celsius": 20.5}`), http.StatusUnprocessableEntity, "refused")
		b.post("command", `{"wish": "retarget", "celsius": 19.5, "step": 1}`, 200)
		if s := b.state(); *s.Target != 19.5 {
			b.Errorf("to be at %v", *s.Target)
		}
		b.post("command", `{"wish": "skip"}`, 200)
		if s := b.state(); s.Batch.State != "complete" {
			b.Error(s.Batch.State)
		}
	})
}

// What a person has done to the kettle is told in one request, counted at once,
// and refused with its reason where it cannot be.
func TestWhatAPersonDidIsCountedAtOnce(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		b.run("warm")
		before := b.state().Batch
		b.post("command", `{"wish": "added", "litres": 2, "celsius": 60}`, 200)
		after := b.state().Batch
		// 2 L at 60 °C are 1.970 L at 20 °C: IAPWS R7-97, 983.21 and 998.21 kg/m³.
		if in := after.Water - before.Water; math.Abs(in-1.970) > 0.002 || after.Told != before.Told+1 {
			b.Errorf("%v L went in, told %d times after %d", in, after.Told, before.Told)
		}
		b.post("command", `{"wish": "lid-off"}`, 200)
		if !b.state().Batch.LidOff {
			b.Error("the lid is not off")
		}
		w := b.ask("POST", "command", `{"wish": "added", "litres": 400, "celsius": 20}`)
		no(b, w, http.StatusUnprocessableEntity, "refused")
		if !strings.Contains(w.Body.String(), "more than the kettle holds") {
			b.Error(w.Body.String())
		}
		// 25 L out of 25 are no volume; 20 L leave the element bare: heat is off.
		w = b.ask("POST", "command", `{"wish": "took-out", "litres": 20}`)
		no(b, w, http.StatusUnprocessableEntity, "refused")
		if s := b.state(); !s.Batch.Barred || s.Duty != 0 || s.Heating {
			b.Errorf("after so much was taken out: barred %v, duty %v, heating %v", s.Batch.Barred, s.Duty, s.Heating)
		}
		b.post("command", `{"wish": "volume-is", "litres": 24, "celsius": 20}`, 200)
		if s := b.state(); s.Batch.Barred || math.Abs(s.Batch.Water-24) > 1e-9 {
			b.Errorf("after it was read: barred %v, %v L", s.Batch.Barred, s.Batch.Water)
		}
	})
}

func TestCommandsThatMakeNoSenseAreNotSent(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		for _, body := range []string{
			`{}`, `{"wish": ""}`, `{"wish": "unknown"}`, `{"wish": "start"}`, `{"wish": "stop"}`, `{"wish": "Pause"}`, `{"wish": 3}`,
			`{"wish": "pause", "litres": 3}`, `{"wish": "pause", "minutes": 3}`, `{"wish": "extend"}`, `{"wish": "extend", "minutes": 0}`,
			`{"wish": "extend", "minutes": 361}`, `{"wish": "extend", "minutes": -361}`, `{"wish": "extend", "minutes": "3"}`,
			`{"wish": "drained", "litres": 0}`, `{"wish": "drained", "litres": -1}`, `{"wish": "drained", "litres": 501}`,
			`{"wish": "added"}`, `{"wish": "added", "litres": 2}`, `{"wish": "added", "celsius": 60}`, `{"wish": "took-out"}`,
			`{"wish": "took-out", "litres": 2, "celsius": 60}`, `{"wish": "volume-is", "litres": 23.1}`, `{"wish": "lid-off", "litres": 1}`,
			`{"wish": "added", "litres": 2, "celsius": 0}`, `{"wish": "added", "litres": 2, "celsius": 100.5}`, `{"wish": "added", "litres": 0, "celsius": 60}`,
			`{"wish": "retarget"}`, `{"wish": "retarget", "celsius": 60, "litres": 1}`, `{"wish": "retarget", "celsius": 60, "step": 0}`,
			`{"wish": "pause", "step": 1}`, `{"wish": "extend", "minutes": 1, "step": 33}`,
			`{"wish": "pause", "addition": 1}`, `{"wish": "addition-done", "addition": 0}`, `{"wish": "addition-done", "addition": 33}`, `{"wish": "addition-done", "addition": 1.5}`,
		} {
			no(b, b.ask("POST", "command", body), http.StatusBadRequest, "bad-request")
			if err := promised.fits([]byte(body), "paths", Prefix+"command", "post", "requestBody", "content", jsonKind, "schema"); err == nil {
				b.Errorf("the document allows %s", body)
			}
		}
	})
}

func TestOrdersToALoopThatHangsAreGivenUpAndNotDoneLater(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		b.run("warm")
		release := b.pan.hold()
		pass(2 * time.Second)
		var all sync.WaitGroup
		answers := make([]*httptest.ResponseRecorder, 20)
		for i := range answers {
			all.Go(func() { answers[i] = b.ask("POST", "command", `{"wish": "pause"}`) })
		}
		all.Wait()
		busy := 0
		for _, w := range answers {
			if into[Problem](b, w).Type == "/problems/busy" {
				busy++
				continue
			}
			no(b, w, http.StatusServiceUnavailable, "not-taken")
		}
		if busy != 4 { // 16 wait
			b.Errorf("%d were turned away at once", busy)
		}
		release()
		pass(5 * time.Second)
		if s := b.state(); s.Batch.State != "running" {
			b.Error(s.Batch.State)
		}
	})
}

func TestAnOrderThatWaitsWhenSTOPComesIsVoid(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		start := b.arm("warm")
		release := b.pan.hold()
		pass(2 * time.Second)
		var all sync.WaitGroup
		var begun, waits *httptest.ResponseRecorder
		all.Go(func() { begun = b.ask("POST", "start", start) })
		all.Go(func() { waits = b.ask("POST", "command", `{"wish": "pause"}`) })
		synctest.Wait()
		all.Go(func() { b.ask("POST", "stop", "{}") })
		synctest.Wait()
		release()
		all.Wait()
		no(b, begun, http.StatusConflict, "stopped")
		no(b, waits, http.StatusConflict, "stopped")
		if s := b.state(); s.Batch != nil || s.Heating {
			b.Errorf("%+v", s.Batch)
		}
	})
}

// Two starts wait for the loop, each with an arming of its own: the second finds
// a batch under way and changes nothing.
func TestTheSecondOfTwoStartsIsRefusedByTheLoop(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		release := b.pan.hold()
		pass(2 * time.Second)
		var all sync.WaitGroup
		answers := make([]*httptest.ResponseRecorder, 2)
		for i := range answers {
			start := b.arm("warm")
			all.Go(func() { answers[i] = b.ask("POST", "start", start) })
			synctest.Wait()
		}
		release()
		all.Wait()
		if answers[0].Code != 200 {
			b.Error(answers[0].Body)
		}
		no(b, answers[1], http.StatusUnprocessableEntity, "refused")
		b.end()
		if list := into[struct{ Records []Brief }](b, b.get("records")).Records; len(list) != 1 {
			b.Errorf("records: %+v", list)
		}
	})
}

// The driver of the element hangs within the tick that has taken the order: the
// outcome is not known, and a press that is sent again is not carried out again.
func TestAnOrderWhoseOutcomeIsNotKnownIsNotDoneTwice(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		start := b.arm("warm")
		hang := func(path, body string) {
			release := b.pan.jammed()
			no(b, b.ask("POST", path, body, "Idempotency-Key: a"), http.StatusGatewayTimeout, "outcome-unknown")
			no(b, b.ask("POST", path, body, "Idempotency-Key: a"), http.StatusGatewayTimeout, "outcome-unknown")
			release()
			pass(2 * time.Second)
		}
		hang("start", start)
		before := b.state().Step.Left
		hang("command", `{"wish": "extend", "minutes": 1}`)
		if left := b.state().Step.Left; left != before+60 {
			b.Errorf("%v left, was %v", left, before)
		}
	})
}

func TestALoopThatHasEndedTakesNoOrders(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		start := b.arm("warm")
		b.end()
		no(b, b.ask("POST", "start", start), http.StatusServiceUnavailable, "loop-down")
		no(b, b.ask("POST", "command", `{"wish": "pause"}`), http.StatusServiceUnavailable, "loop-down")
		if w := b.ask("POST", "stop", "{}"); w.Code != http.StatusAccepted {
			b.Error(w.Code)
		}
	})
}

// START and STOP by the interface at the same instant, on a loop that does not
// wait: in the end the element is off.
func TestSTARTAndSTOPRacingEndsOff(t *testing.T) {
	rounds := 1000
	if testing.Short() {
		rounds = 100
	}
	inBubble(t, settings{speed: -1, records: t.TempDir()}, func(b *bench) {
		begun := 0
		for i := range rounds {
			start := b.arm("warm")
			var both sync.WaitGroup
			both.Go(func() {
				w := b.ask("POST", "start", start)
				if w.Code == 200 {
					begun++
				} else {
					no(b, w, http.StatusConflict, "stopped")
				}
			})
			both.Go(func() {
				for range i % 3 {
					<-b.d.Changed()
				}
				if w := b.ask("POST", "stop", "{}"); w.Code != 200 {
					b.Error(w.Code, w.Body)
				}
			})
			both.Wait()
			from := b.d.Latest().Number
			s := b.until("three more ticks", func(s *daemon.Snapshot) bool { return s.Number >= from+3 })
			if s.Decision.Mode.Heats() || s.Heating == unit.On || s.Decision.Pump == unit.On {
				b.Fatalf("round %d: %v, heating %v", i, s.Decision.Mode, s.Heating)
			}
			if s.Decision.Mode == controller.Held {
				b.post("command", `{"wish": "end"}`, 200)
			}
		}
		if begun < rounds/10 || begun > rounds*9/10 {
			b.Errorf("it was no race: %d of %d starts came first", begun, rounds)
		}
	})
}
