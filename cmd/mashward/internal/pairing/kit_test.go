package pairing

import (
	"bytes"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"testing"
	"time"
)

// hall is a door with somebody behind it who counts who came in.
type hall struct {
	*Pairing
	t       testing.TB
	now     time.Time
	folder  string
	log     bytes.Buffer
	came    int
	visitor Visitor // the last
}

func newHall(t testing.TB, folder string) *hall {
	t.Helper()
	h := &hall{t: t, folder: folder, now: time.Date(2026, 1, 10, 8, 0, 0, 0, time.UTC)}
	var err error
	h.Pairing, err = New(Options{
		State: folder, Links: func() []string { return []string{"http://192.0.2.2:8973"} }, Port: "8973",
		Now: func() time.Time { return h.now }, Log: slog.New(slog.NewTextHandler(&h.log, nil)),
	})
	if err != nil {
		t.Fatal(err)
	}
	return h
}

const (
	here  = "127.0.0.1:40000"
	sofa  = "192.0.2.77:40000"
	known = "192.0.2.77"
)

// ask asks at the door.
func (h *hall) ask(from, method, path string, header ...string) *httptest.ResponseRecorder {
	h.t.Helper()
	r, w := httptest.NewRequest(method, path, nil), httptest.NewRecorder()
	r.RemoteAddr = from
	for i := 0; i < len(header); i += 2 {
		r.Header.Add(header[i], header[i+1])
	}
	h.Door(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h.came++
		h.visitor = Who(r.Context())
		w.WriteHeader(http.StatusTeapot)
	})).ServeHTTP(w, r)
	return w
}

// pair lets a phone in.
func (h *hall) pair(name string) (Phone, string) {
	h.t.Helper()
	i, err := h.Invite()
	if err != nil {
		h.t.Fatal(err)
	}
	p, token, err := h.Pair(netip.MustParseAddr(known), i.Code, name)
	if err != nil {
		h.t.Fatal(err)
	}
	return p, token
}

// cookie is the header of a browser that keeps a token.
func (h *hall) cookie(token string) (name, value string) { return "Cookie", h.Cookie() + "=" + token }
