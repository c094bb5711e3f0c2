package api

import (
	"fmt"
	"net/http"
	"testing"
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/cmd/mashward/internal/view"
	"mashward/controller"
)

// What is asked first changes nothing; the same wish as a command does it. Each answer
// is held to the document.
func TestAChangeIsLookedAtBeforeItIsMade(t *testing.T) {
	inBubble(t, settings{files: map[string]string{"day": day}}, func(b *bench) {
		no(b, b.ask("POST", "what-if", `{"wish": "skip"}`), http.StatusConflict, "no-batch")
		b.run("warm")
		pass(30 * time.Second)
		before := b.state()
		if before.Forecast == nil || before.Forecast.Text == "" || before.Forecast.Next == nil {
			b.Fatalf("%+v", before.Forecast)
		}
		for body, want := range map[string]struct {
			possible bool
			later    float64
		}{
			`{"wish": "extend", "minutes": 10}`:               {true, 600},
			`{"wish": "extend", "minutes": 10, "step": 1}`:    {true, 600},
			`{"wish": "extend", "minutes": -3}`:               {false, 0},
			`{"wish": "retarget", "celsius": 60}`:             {false, 0},
			`{"wish": "extend", "minutes": 10, "step": 3}`:    {false, 0},
			`{"wish": "added", "litres": 40, "celsius": 20}`:  {false, 0},
			`{"wish": "added", "litres": 0.1, "celsius": 12}`: {true, -1},
			`{"wish": "skip"}`:                                {true, -1},
		} {
			out := into[view.Outlook](b, b.post("what-if", body, 200))
			if out.Possible != want.possible || out.Possible != (out.After != nil) || out.Possible == (out.Refusal != "") || out.Text == "" {
				b.Errorf("%s: %+v", body, out)
			}
			if want.later >= 0 && out.Later != want.later {
				b.Errorf("%s: %g s later", body, out.Later)
			}
		}
		pass(time.Minute + time.Second)
		if now := b.state(); now.Forecast.Finish.At > before.Forecast.Finish.At+60 {
			b.Errorf("asking moved the finish from %v to %v", before.Forecast.Finish, now.Forecast.Finish)
		}
		b.post("command", `{"wish": "extend", "minutes": 10, "step": 1}`, 200)
		pass(2 * time.Second)
		if now := b.state(); now.Forecast.Finish.At < before.Forecast.Finish.At+500 {
			b.Errorf("done, and the finish is %v", now.Forecast.Finish)
		}
		for _, body := range []string{`{}`, `{"wish": "pause"}`, `{"wish": "extend"}`, `{"wish": "skip", "minutes": 3}`, `{"wish": "retarget", "celsius": 0}`} {
			no(b, b.ask("POST", "what-if", body), http.StatusBadRequest, "bad-request")
		}
	})
}

func TestAQuestionThatCannotBeAnsweredSaysWhy(t *testing.T) {
	free := make(chan struct{})
	slow := func(at *ahead.Instant, c controller.Command) (ahead.Outlook, error) {
		if c.Wish == controller.Skip {
			return ahead.Outlook{}, ahead.ErrNoForecast
		}
		<-free
		return at.WhatIf(c)
	}
	inBubble(t, settings{whatIf: func(at *ahead.Instant, c controller.Command) (ahead.Outlook, error) { return slow(at, c) }}, func(b *bench) {
		free = make(chan struct{})
		b.run("warm")
		no(b, b.ask("POST", "what-if", `{"wish": "skip"}`), http.StatusUnprocessableEntity, "no-forecast")
		first := make(chan string, 1)
		go func() {
			w := b.ask("POST", "what-if", `{"wish": "extend", "minutes": 10}`)
			first <- fmt.Sprint(w.Code, " ", into[Problem](b, w).Type)
		}()
		pass(time.Second)
		no(b, b.ask("POST", "what-if", `{"wish": "extend", "minutes": 10}`), http.StatusTooManyRequests, "what-if-under-way")
		if got := <-first; got != "503 /problems/too-slow" {
			b.Error(got)
		}
		close(free)
	})
}
