package api

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

func TestTheSameKeyIsCarriedOutOnce(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		b.run("warm")
		before := b.state().Step.Left
		press := func(key string) *httptest.ResponseRecorder {
			return b.post("command", `{"wish": "extend", "minutes": 1}`, 200, "Idempotency-Key: "+key)
		}
		first := press("a")
		for range 5 {
			pass(90 * time.Second / 6)
			if again := press("a"); again.Body.String() != first.Body.String() {
				b.Error(again.Body)
			}
		}
		press("b")
		if left := b.state().Step.Left; left != before+120 {
			b.Errorf("%v s left, was %v", left, before)
		}
	})
}

func TestARefusalIsRememberedWithItsKey(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		no(b, b.ask("POST", "command", `{"wish": "pause"}`, "Idempotency-Key: a"), http.StatusUnprocessableEntity, "refused") // idle
		b.run("warm")
		no(b, b.ask("POST", "command", `{"wish": "pause"}`, "Idempotency-Key: a"), http.StatusUnprocessableEntity, "refused")
		if s := b.state(); s.Batch.State != "running" {
			b.Error(s.Batch.State)
		}
	})
}

// The answer to a start was lost on its way: the same press again finds the
// batch that it began, not an arming that was used.
func TestALostAnswerToAStartIsGivenAgain(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		start := b.arm("warm")
		first := b.post("start", start, 200, "Idempotency-Key: s")
		again := b.post("start", start, 200, "Idempotency-Key: s")
		if first.Body.String() != again.Body.String() {
			b.Error(again.Body)
		}
		no(b, b.ask("POST", "start", start, "Idempotency-Key: t"), http.StatusConflict, "arming-used")
	})
}

func TestOneKeyForTwoRequestsIsRefused(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		b.run("warm")
		b.post("command", `{"wish": "pause"}`, 200, "Idempotency-Key: a")
		no(b, b.ask("POST", "command", `{"wish": "resume"}`, "Idempotency-Key: a"), http.StatusUnprocessableEntity, "key-reused")
		if s := b.state(); s.Batch.State != "paused" {
			b.Error(s.Batch.State)
		}
		// The same key at another address is another key.
		for path, body := range map[string]string{"arm": `{}`, "start": `{"nonce": "x"}`, "rehearsal": `{"profile": "nowhere"}`} {
			if w := b.ask("POST", path, body, "Idempotency-Key: a"); w.Code == http.StatusUnprocessableEntity {
				b.Error(path, w.Body)
			}
		}
	})
}

func TestBadKeysAreRefused(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		for _, key := range []string{"", "a b", "ä", "a\x7f", strings.Repeat("k", 256)} {
			for path, body := range map[string]string{"command": `{"wish": "pause"}`, "arm": `{}`, "start": `{}`, "rehearsal": `{}`} {
				no(b, b.ask("POST", path, body, "Idempotency-Key: "+key), http.StatusBadRequest, "bad-key")
			}
		}
		r := request("POST", Prefix+"command", `{"wish": "pause"}`, "Idempotency-Key: a")
		r.Header.Add("Idempotency-Key", "b")
		w := httptest.NewRecorder()
		b.api.ServeHTTP(w, r)
		no(b, w, http.StatusBadRequest, "bad-key")
	})
}

func TestAKeyIsForgottenAfterTenMinutes(t *testing.T) {
	var m memory
	began, did := time.Now(), 0
	at := func(after time.Duration) int {
		m.once(request("POST", "/x", "", "Idempotency-Key: a"), began.Add(after), nil, func() answer {
			did++
			return answer{status: http.StatusOK}
		})
		return did
	}
	for _, c := range []struct {
		after time.Duration
		done  int
	}{{0, 1}, {5 * time.Minute, 1}, {10 * time.Minute, 1}, {10*time.Minute + 1, 2}, {20 * time.Minute, 2}} {
		if got := at(c.after); got != c.done {
			t.Errorf("after %v: carried out %d times, want %d", c.after, got, c.done)
		}
	}
}

// What was not done is not remembered: the same press again does it.
func TestWhatWasNotDoneCanBeAskedAgainWithItsKey(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		b.run("warm")
		release := b.pan.hold()
		pass(2 * time.Second)
		no(b, b.ask("POST", "command", `{"wish": "pause"}`, "Idempotency-Key: a"), http.StatusServiceUnavailable, "not-taken")
		release()
		pass(2 * time.Second)
		b.post("command", `{"wish": "pause"}`, 200, "Idempotency-Key: a")
	})
}

// A client that hangs up while its press waits for the loop changes nothing: it
// asks again with the same key, and learns what became of it.
func TestAPressWhoseClientHangsUpIsDoneOnce(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		b.run("warm")
		before := b.state().Step.Left
		release := b.pan.hold()
		pass(2 * time.Second)
		ctx, hangUp := context.WithCancel(context.Background())
		const body = `{"wish": "extend", "minutes": 1}`
		var all sync.WaitGroup
		all.Go(func() {
			r := request("POST", Prefix+"command", body, "Idempotency-Key: a").WithContext(ctx)
			b.api.ServeHTTP(httptest.NewRecorder(), r)
		})
		synctest.Wait()
		hangUp()
		synctest.Wait()
		release()
		pass(3 * time.Second)
		for range 2 {
			if left := b.state().Step.Left; left != before+60 {
				b.Errorf("%v left, was %v", left, before)
			}
			b.post("command", body, 200, "Idempotency-Key: a")
		}
		all.Wait()
	})
}

// Two of the same at once, the second while the first still waits for the loop.
func TestASecondPressWaitsForTheFirst(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		b.run("warm")
		before := b.state().Step.Left
		release := b.pan.hold()
		pass(2 * time.Second)
		var all sync.WaitGroup
		answers := make([]*httptest.ResponseRecorder, 3)
		for i := range answers {
			all.Go(func() {
				answers[i] = b.ask("POST", "command", `{"wish": "extend", "minutes": 1}`, "Idempotency-Key: a")
			})
			synctest.Wait()
		}
		if n := b.d.Waiting(); n != 1 {
			b.Error(n, "wait")
		}
		release()
		all.Wait()
		for _, w := range answers {
			if w.Code != 200 || w.Body.String() != answers[0].Body.String() {
				b.Error(w.Code, w.Body)
			}
		}
		if left := b.state().Step.Left; left != before+60 {
			b.Errorf("%v left, was %v", left, before)
		}
	})
}

func TestTheMemoryOfKeysIsBounded(t *testing.T) {
	var m memory
	now := time.Now()
	did := 0
	once := func(key string) answer {
		return m.once(request("POST", "/x", "", "Idempotency-Key: "+key), now, nil, func() answer {
			did++
			return answer{status: http.StatusOK}
		})
	}
	for i := range 10 * mostKeys {
		now = now.Add(time.Millisecond)
		once(fmt.Sprint(i))
	}
	if len(m.deeds) != mostKeys || did != 10*mostKeys {
		t.Error(len(m.deeds), did)
	}
	once(fmt.Sprint(10*mostKeys - 1)) // the newest is kept
	if did != 10*mostKeys {
		t.Error("carried out twice")
	}
	once("0") // the oldest has made room
	if did != 10*mostKeys+1 {
		t.Error("the oldest was kept")
	}
}

func TestMoreKeysAtOnceThanAreKeptAreTurnedAway(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var m memory
		let := make(chan struct{})
		var all sync.WaitGroup
		for i := range mostKeys {
			all.Go(func() {
				m.once(request("POST", "/x", "", fmt.Sprint("Idempotency-Key: ", i)), time.Now(), nil, func() answer {
					<-let
					return answer{status: http.StatusOK}
				})
			})
		}
		synctest.Wait()
		out := m.once(request("POST", "/x", "", "Idempotency-Key: more"), time.Now(), nil, func() answer {
			t.Error("carried out")
			return answer{}
		})
		if out.status != http.StatusServiceUnavailable || out.retry == 0 {
			t.Errorf("%d", out.status)
		}
		close(let)
		all.Wait()
	})
}

// A handler that panics leaves nobody waiting.
func TestAPanicLeavesNobodyWaiting(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var m memory
		let := make(chan struct{})
		ask := func(act func() answer) (out answer) {
			defer func() { _ = recover() }()
			return m.once(request("POST", "/x", "", "Idempotency-Key: a"), time.Now(), nil, act)
		}
		go ask(func() answer {
			<-let
			panic("handler")
		})
		synctest.Wait()
		second := make(chan answer)
		go func() { second <- ask(func() answer { return answer{status: http.StatusOK} }) }()
		synctest.Wait()
		close(let)
		if out := <-second; out.status != http.StatusInternalServerError {
			t.Error(out.status)
		}
		if out := ask(func() answer { return answer{status: http.StatusOK} }); out.status != http.StatusOK {
			t.Error("the key is blocked:", out.status)
		}
	})
}
