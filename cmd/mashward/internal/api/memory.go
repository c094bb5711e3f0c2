package api

import (
	"crypto/sha256"
	"net/http"
	"sync"
	"time"
)

const (
	// remembered is how long a key and its answer are kept: longer than anyone
	// goes on trying to get a press through a bad link.
	remembered = 10 * time.Minute
	// mostKeys bounds the memory; an older answer makes room.
	mostKeys = 128
	keyBytes = 255
)

// memory keeps answers by Idempotency-Key, so that a press that was sent twice
// is carried out once.
type memory struct {
	mu    sync.Mutex
	deeds map[string]*deed
}

// deed is one request that has been carried out, or is being.
type deed struct {
	body  [sha256.Size]byte
	since time.Time
	done  chan struct{} // closed when answer stands
	answer
}

func (d *deed) settled() bool {
	select {
	case <-d.done:
		return true
	default:
		return false
	}
}

// once carries the request out, unless it has been before.
func (m *memory) once(r *http.Request, now time.Time, body []byte, act func() answer) answer {
	keys := r.Header.Values("Idempotency-Key")
	if len(keys) == 0 {
		return act()
	}
	if len(keys) > 1 || !goodKey(keys[0]) {
		return problem(http.StatusBadRequest, "bad-key", "The Idempotency-Key cannot be used", "Send one, of 1 to 255 visible ASCII characters, new for each press.")
	}
	key := r.Method + " " + r.URL.Path + " " + keys[0]
	mine := &deed{body: sha256.Sum256(body), since: now, done: make(chan struct{})}
	before, full := m.claim(key, mine)
	switch {
	case full:
		out := problem(http.StatusServiceUnavailable, "busy", "Too many requests at once", "Try again in a second.")
		out.retry = 1
		return out
	case before == nil:
		return m.carryOut(key, mine, act)
	case before.body != mine.body:
		return problem(http.StatusUnprocessableEntity, "key-reused", "This key was used for another request",
			"Make a new Idempotency-Key for each press.")
	}
	select {
	case <-before.done:
		return before.answer
	case <-r.Context().Done():
		return problem(http.StatusServiceUnavailable, "busy", "The first request is still under way", "Ask again with the same key.")
	}
}

// claim puts mine under the key if nothing is there; before is what is.
func (m *memory) claim(key string, mine *deed) (before *deed, full bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.deeds == nil {
		m.deeds = map[string]*deed{}
	}
	oldest := ""
	for k, d := range m.deeds {
		if !d.settled() {
			continue
		}
		if mine.since.Sub(d.since) > remembered {
			delete(m.deeds, k)
		} else if k != key && (oldest == "" || d.since.Before(m.deeds[oldest].since)) {
			oldest = k
		}
	}
	if before := m.deeds[key]; before != nil {
		return before, false
	}
	if len(m.deeds) >= mostKeys {
		if oldest == "" {
			return nil, true
		}
		delete(m.deeds, oldest)
	}
	m.deeds[key] = mine
	return nil, false
}

// carryOut does it, and keeps the answer unless nothing was done. Whatever
// becomes of act, nobody waits for ever.
func (m *memory) carryOut(key string, mine *deed, act func() answer) answer {
	mine.answer = bug()
	defer func() {
		m.mu.Lock()
		defer m.mu.Unlock()
		if mine.again {
			delete(m.deeds, key)
		}
		close(mine.done)
	}()
	mine.answer = act()
	return mine.answer
}

func goodKey(s string) bool {
	if s == "" || len(s) > keyBytes {
		return false
	}
	for i := range len(s) {
		if s[i] <= ' ' || s[i] > '~' {
			return false
		}
	}
	return true
}
