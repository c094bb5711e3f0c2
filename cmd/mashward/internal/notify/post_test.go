package notify

import (
	"crypto/x509"
	"fmt"
	"io"
	"log"
	"net/http"
	"net/http/httptest"
	"runtime"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"mashward/cmd/internal/notice"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/web"
)

// The pauses double, are stretched by up to a half, and the letter keeps its name,
// so that a target can tell that it is the same.
func TestAFailingTargetIsTriedAgainMoreAndMoreSeldom(t *testing.T) {
	bubble(t, func(t *testing.T, a *air) {
		g := &got{began: time.Now()}
		a.server(t, "phone.example", func(w http.ResponseWriter, r *http.Request) { g.take(w, r, 500) })
		n := onAir(a, one)
		end := running(t, n)
		n.post("a", isNew, 5)
		pass(time.Hour)
		want := []time.Duration{0, 5 * time.Second, 15 * time.Second, 35 * time.Second, 75 * time.Second, 155 * time.Second}
		if fmt.Sprint(g.at) != fmt.Sprint(want) || len(g.ids) != mostAttempts || g.ids[0] != g.ids[5] || g.ids[0] == "" {
			t.Errorf("tried at %v, want %v; %q", g.at, want, g.ids)
		}
		if c := n.counted(t, "phone"); c["failed"] != 1 || len(c) != 1 {
			t.Error(c)
		}
		end()
	})
}

func TestATargetThatComesBackIsTold(t *testing.T) {
	bubble(t, func(t *testing.T, a *air) {
		g := &got{began: time.Now()}
		a.server(t, "phone.example", func(w http.ResponseWriter, r *http.Request) {
			if time.Since(g.began) < 30*time.Second {
				w.Header().Set("Retry-After", "60")
				g.take(w, r, 503)
				return
			}
			g.take(w, r, 204)
		})
		n := onAir(a, one)
		end := running(t, n)
		n.post("a", isNew, 5)
		pass(time.Hour)
		if len(g.at) != 2 || g.at[1] != time.Minute || n.counted(t, "phone")["sent"] != 1 {
			t.Errorf("%v %v", g.at, n.counted(t, "phone"))
		}
		end()
	})
}

// Each of these would hold up or flood whoever trusted it. The messages of the good
// target arrive at once all the same, what waits is bounded, and so is all that runs.
func TestATargetThatMisbehavesHoldsUpNoOther(t *testing.T) {
	bubble(t, func(t *testing.T, a *air) {
		g := &got{began: time.Now()}
		a.server(t, "good.example", func(w http.ResponseWriter, r *http.Request) { g.take(w, r, 200) })
		a.misbehaved(t)
		n := onAir(a, `notify:
  - {target: silent, url: http://silent.example/}
  - {target: broken, url: http://broken.example/}
  - {target: endless, url: http://endless.example/}
  - {target: nobody, url: http://nobody.example/}
  - {target: good, url: http://good.example/}
`)
		before := runtime.NumGoroutine()
		end := running(t, n)
		most := 0
		for i := range 500 {
			began := time.Now()
			n.post(fmt.Sprint("event ", i), isNew, 3+i%3)
			if took := time.Since(began); took != 0 {
				t.Fatalf("to hand over a message took %v", took)
			}
			pass(time.Second)
			most = max(most, runtime.NumGoroutine()-before)
		}
		if len(g.texts()) != 500 {
			t.Errorf("the good target has %d of 500", len(g.texts()))
		}
		for i, at := range g.at {
			if at > time.Duration(i+1)*time.Second {
				t.Fatalf("message %d came after %v", i, at)
			}
		}
		if most > mostGoroutines {
			t.Errorf("%d goroutines, more than %d", most, mostGoroutines)
		}
		for _, s := range n.State().Targets {
			if s.Waiting > mostWaiting {
				t.Errorf("%s: %d wait", s.Target, s.Waiting)
			}
		}
		for _, target := range []string{"silent", "broken", "nobody"} {
			if c := n.counted(t, target); c["dropped"] == 0 || c["sent"] != 0 {
				t.Errorf("%s: %v", target, c)
			}
		}
		if c := n.counted(t, "endless"); c["sent"] != 500 { // its status says that it took them
			t.Errorf("endless: %v", c)
		}
		end()
	})
}

func TestWhatWaitsTooLongGivesWayToWhatIsUrgent(t *testing.T) {
	bubble(t, func(t *testing.T, a *air) {
		n := onAir(a, one) // nobody answers
		end := running(t, n)
		n.post("urgent", isNew, 5)
		for i := range 3 * mostWaiting {
			n.post(fmt.Sprint("usual ", i), isNew, 3)
		}
		n.post("urgent too", isNew, 5)
		x := n.boxes[0]
		x.mu.Lock()
		var kept []string
		for _, l := range x.queue {
			kept = append(kept, l.key)
		}
		x.mu.Unlock()
		if len(kept) != mostWaiting || kept[0] != "urgent" || kept[len(kept)-1] != "urgent too" {
			t.Errorf("%d wait: %q", len(kept), kept)
		}
		end()
	})
}

// A question that was answered is not asked hours later, and a newer message stands
// for the older ones of the same thing.
func TestWhatIsNoNewsAnyMoreIsNotSent(t *testing.T) {
	bubble(t, func(t *testing.T, a *air) {
		g := &got{began: time.Now()}
		a.server(t, "phone.example", func(w http.ResponseWriter, r *http.Request) {
			if time.Since(g.began) < time.Minute {
				w.WriteHeader(500)
				return
			}
			g.take(w, r, 200)
		})
		n := onAir(a, one)
		end := running(t, n)
		n.post("first", isNew, 4)
		pass(time.Millisecond)
		n.hand(Message{Kind: notice.Prompt, State: isNew, key: "question", fields: map[string]string{"text": "question"}}, time.Now())
		n.post("alarm", isNew, 4)
		n.post("alarm", isAgain, 4)
		n.boxes[0].withdraw("question")
		n.boxes[0].withdraw("nothing")
		pass(time.Hour)
		if got := strings.Join(g.texts(), ", "); got != "first new, alarm again" {
			t.Errorf("%q", got)
		}
		if c := n.counted(t, "phone"); c["overtaken"] != 2 || c["sent"] != 2 {
			t.Error(c)
		}
		end()
	})
}

// A mistake in what is said must not end the program that holds the kettle, nor the
// telling.
func TestALookThatFailsIsNotTheLast(t *testing.T) {
	bubble(t, func(t *testing.T, a *air) {
		began, heard := time.Now(), 0
		n := New(Options{Now: time.Now, Log: quiet(), Say: func(Message) { heard++ }, Latest: func() *daemon.Snapshot {
			if time.Since(began) < 5*time.Second {
				panic("a mistake")
			}
			return &daemon.Snapshot{GaveUp: true}
		}})
		end := running(t, n)
		pass(7 * time.Second)
		end()
		if heard != 1 {
			t.Errorf("heard %d", heard)
		}
	})
}

func TestATargetIsToldWhatItsFileSaysAndNoMore(t *testing.T) {
	bubble(t, func(t *testing.T, a *air) {
		all := map[string]*got{}
		for _, name := range []string{"both", "alarms", "once", "prompts"} {
			g := &got{began: time.Now()}
			all[name] = g
			a.server(t, name+".example", func(w http.ResponseWriter, r *http.Request) { g.take(w, r, 200) })
		}
		n := onAir(a, `notify:
  - {target: both, url: http://both.example/, tell: [prompt, alarm]}
  - {target: alarms, url: http://alarms.example/, tell: [alarm]}
  - {target: once, url: http://once.example/, once: yes}
  - {target: prompts, url: http://prompts.example/, tell: [prompt]}
`)
		end := running(t, n)
		n.post("a", isNew, 4)
		pass(time.Minute)
		n.post("a", isAgain, 4)
		pass(time.Minute)
		n.hand(Message{Kind: notice.Alarm, State: isNew, key: "person-needed", covered: true, fields: map[string]string{"text": "covered"}}, time.Now())
		pass(time.Minute)
		end()
		for name, want := range map[string]string{"both": "a new, a again", "alarms": "a new, a again, covered", "once": "a new", "prompts": ""} {
			if got := strings.Join(all[name].texts(), ", "); got != want {
				t.Errorf("%s: %q, want %q", name, got, want)
			}
		}
	})
}

// The certificate of a server that nobody vouches for is not taken; a redirect is
// followed nowhere; a certain no is not asked for again.
func TestATargetIsTheOneThatTheFileNames(t *testing.T) {
	elsewhere := 0
	other := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { elsewhere++ }))
	defer other.Close()
	status := http.StatusTemporaryRedirect
	secure := httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Location", other.URL)
		w.WriteHeader(status)
		fmt.Fprintf(w, "you sent %s to %s", r.Header.Get("Authorization"), r.URL.Path)
	}))
	secure.Config.ErrorLog = log.New(io.Discard, "", 0) // it complains about who refuses its certificate
	secure.StartTLS()
	defer secure.Close()
	roots := x509.NewCertPool()
	roots.AddCert(secure.Certificate())
	target := notice.Target{
		Name: "phone", URL: notice.Secret{Value: secure.URL + "/s3cr3t-room"}, Form: notice.Text, Timeout: 5 * time.Second,
		Headers: []notice.Header{{Name: "Authorization", Secret: notice.Secret{File: "f", Value: "Bearer t0ken"}}},
	}
	ask := func(roots *x509.CertPool) Reply {
		return newPoster(&target, nil, roots).exchange(t.Context(), &Message{}, "id", time.Second, mostShown)
	}
	if r := ask(nil); r.Taken || r.Status != 0 || !strings.Contains(r.Text, "certificate") {
		t.Errorf("a certificate of nobody: %+v", r)
	}
	for code, want := range map[int]Reply{
		http.StatusTemporaryRedirect: {}, http.StatusForbidden: {}, http.StatusOK: {Taken: true}, http.StatusTooManyRequests: {Again: true}, http.StatusBadGateway: {Again: true},
	} {
		status = code
		r := ask(roots)
		if r.Taken != want.Taken || r.Again != want.Again || r.Status != code {
			t.Errorf("%d: %+v", code, r)
		}
		if strings.Contains(r.Text, "t0ken") || strings.Contains(r.Text, "s3cr3t") {
			t.Errorf("a secret is shown: %s", r.Text)
		}
	}
	if elsewhere != 0 {
		t.Errorf("%d requests went elsewhere", elsewhere)
	}
}

// A target that is our own page by mistake answers no question: what stands before
// every route refuses what another site has posted.
func TestOurOwnPageTakesNoMessageForAPress(t *testing.T) {
	pressed := 0
	own := httptest.NewServer(web.Guard(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { pressed++ })))
	defer own.Close()
	w, _ := notice.ParseWording(`{"wish": "pouring-now"}`)
	target := notice.Target{Name: "own", URL: notice.Secret{Value: own.URL + "/api/v1/command"}, Form: notice.JSON, Body: w, Timeout: 5 * time.Second}
	r := newPoster(&target, nil, nil).exchange(t.Context(), &Message{}, "id", 5*time.Second, 0)
	if r.Taken || r.Status != http.StatusForbidden || pressed != 0 {
		t.Errorf("%+v, pressed %d times", r, pressed)
	}
}

func TestATestSaysWhatCameBackFromEachTarget(t *testing.T) {
	bubble(t, func(t *testing.T, a *air) {
		g := &got{began: time.Now()}
		a.server(t, "good.example", func(w http.ResponseWriter, r *http.Request) { g.take(w, r, 200); fmt.Fprint(w, "thank you") })
		a.server(t, "no.example", func(w http.ResponseWriter, r *http.Request) { w.WriteHeader(404) })
		n := onAir(a, "notify: [{target: good, url: http://good.example/, tell: [trip]}, {target: no, url: http://no.example/}, {target: nobody, url: http://nobody.example/, timeout: 1 min}]")
		began := time.Now()
		all, ok := n.Test(t.Context())
		if took := time.Since(began); !ok || took > testWithin {
			t.Errorf("took %v", took)
		}
		var said []string
		for _, x := range all {
			said = append(said, x.Target+": "+x.Text)
		}
		if got := strings.Join(said, "; "); got != "good: taken (200 OK): thank you; no: refused (404 Not Found); nobody: no answer within 8 s" {
			t.Error(got)
		}
		if texts := g.texts(); len(texts) != 1 || !strings.Contains(texts[0], "This is a test") {
			t.Errorf("%q", texts)
		}
		// While one runs there is no second.
		go n.Test(t.Context())
		synctest.Wait()
		if _, ok := n.Test(t.Context()); ok {
			t.Error("two tests at once")
		}
		pass(time.Minute)
	})
}
