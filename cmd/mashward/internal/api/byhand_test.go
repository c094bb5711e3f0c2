package api

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
)

func TestWaterByHandIsMadeRehearsedArmedAndRun(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		pass(10 * time.Second)
		p := into[ShownProfile](b, b.post("by-hand", `{"litres": 20, "celsius": 25, "minutes": 5, "cleaning": true}`, 200))
		if p.ID != "~cleaning~20000~25000~300" || p.Refused || p.Rehearsed || !strings.Contains(p.Text, "use: cleaning") || p.Name != "Cleaning: 20 L at 25 °C for 5 min" {
			t.Fatalf("%+v", p)
		}
		if text := b.get("plan/" + p.ID).Body.String(); !strings.Contains(text, "goggles and gloves") {
			t.Error(text)
		}
		if b.rehearse(p.ID) != p.Hash {
			t.Error("another hash")
		}
		armed := into[Armed](b, b.post("arm", toArm(p.ID, p.Hash, 20), 200))
		b.post("start", `{"nonce": "`+armed.Nonce+`"}`, 200)
		b.until("done", func(s *daemon.Snapshot) bool { return s.Decision.Mode == controller.Complete })
		if s := b.state(); s.Batch == nil || s.Batch.File != "" || s.Batch.Profile != p.Name {
			t.Errorf("%+v", s.Batch)
		}
	})
}

func TestWaterByHandThatCannotBeMeantIsRefused(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		for body, status := range map[string]int{
			`{"litres": 20}`:  400,
			`{"celsius": 60}`: 400,
			`{"litres": 20, "celsius": 60, "minutes": 0}`:                         400,
			`{"litres": 20, "celsius": 60, "minutes": 241}`:                       400,
			`{"litres": 20, "celsius": 60, "until": "14:00"}`:                     400,
			`{"litres": 0, "celsius": 60}`:                                        400,
			`{"litres": 201, "celsius": 60}`:                                      400,
			`{"litres": 20, "celsius": 101}`:                                      400,
			`{"litres": 20, "celsius": 60, "until": "2000-01-01T14:00:00+01:00"}`: 422, // by a clock that nobody keeps
		} {
			b.post("by-hand", body, status)
		}
		near := into[ShownProfile](b, b.post("by-hand", `{"litres": 20, "celsius": 95, "minutes": 5}`, 200))
		if !near.Refused || len(near.Faults) == 0 || !strings.Contains(near.Faults[0].What, "too near to the boil") {
			t.Errorf("%+v", near)
		}
		no(b, b.ask("POST", "rehearsal", `{"profile": "`+near.ID+`"}`), http.StatusUnprocessableEntity, "profile-refused")
	})
	inBubble(t, settings{broken: true}, func(b *bench) {
		no(b, b.ask("POST", "by-hand", `{"litres": 20, "celsius": 60}`), http.StatusServiceUnavailable, "heat-disabled")
	})
}

func TestAWaterBrewHasAnIDOfItsOwn(t *testing.T) {
	inBubble(t, settings{files: map[string]string{"day": day}}, func(b *bench) {
		p := into[ShownProfile](b, b.get("profiles/~water-brew~day"))
		if p.Name != "Water brew: A short day" || p.Refused || !strings.Contains(p.Text, "use: water-brew") {
			t.Fatalf("%+v", p)
		}
		b.rehearse(p.ID)
		no(b, b.get("profiles/~water-brew~nowhere"), http.StatusNotFound, "no-such-profile")
		no(b, b.get("profiles/~water-brew~warm"), http.StatusUnprocessableEntity, "unstated")
	})
}

func TestWaterByHandIsAskedForInJSONOfSomeSize(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		no(b, b.ask("POST", "by-hand", `{"litres": 20, "celsius": 60}`, "Content-Type: text/plain"), http.StatusUnsupportedMediaType, "not-json")
		no(b, b.ask("POST", "by-hand", strings.Repeat(" ", 70<<10)), http.StatusRequestEntityTooLarge, "too-large")
	})
}
