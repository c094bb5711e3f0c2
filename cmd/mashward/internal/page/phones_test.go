package page

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"mashward/cmd/mashward/internal/pairing"
)

// house is a bench with a door that phones come in by.
type house struct {
	*bench
	p *pairing.Pairing
}

func newHouse(t *testing.T, settings ...setting) house {
	t.Helper()
	b := newBench(t, settings...)
	p, err := pairing.New(pairing.Options{State: b.records, Links: func() []string { return []string{"http://192.0.2.2:8973", "http://[fd00::2]:8973"} }, Port: "8973", Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	b.options.Pairing = p
	b.handler = p.Door(New(b.options))
	return house{b, p}
}

// as asks from an address: a form with these pairs, or a page without.
func (h house) as(from, path string, cookies []*http.Cookie, pairs ...string) *httptest.ResponseRecorder {
	h.t.Helper()
	form := url.Values{}
	for i := 0; i < len(pairs); i += 2 {
		form.Set(pairs[i], pairs[i+1])
	}
	r := httptest.NewRequest("GET", path, nil)
	if len(pairs) > 0 {
		r = httptest.NewRequest("POST", path, strings.NewReader(form.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	r.RemoteAddr = from + ":40000"
	for _, c := range cookies {
		r.AddCookie(c)
	}
	w := httptest.NewRecorder()
	h.handler.ServeHTTP(w, r)
	return w
}

const (
	atDesk = "127.0.0.1"
	onSofa = "192.0.2.77"
)

var (
	shownCode = regexp.MustCompile(`type the code <strong>([0-9A-Z]{4}-[0-9A-Z]{4})</strong>`)
	phoneID   = regexp.MustCompile(`name="phone" value="([0-9a-f]+)"`)
)

// A phone from its first look to the day it is lost.
func TestAPhoneIsPairedWithAFormAndTakenOffTheList(t *testing.T) {
	h := newHouse(t)
	first := h.as(onSofa, "/", nil)
	if first.Code != http.StatusSeeOther || first.Header().Get("Location") != "/pair" {
		t.Fatal(first.Code, first.Header())
	}
	if words := h.as(onSofa, "/pair", nil).Body.String(); !strings.Contains(words, "mashward pair") || !strings.Contains(words, `action="/stop"`) ||
		strings.Contains(words, "Yard kettle") || strings.Contains(words, "/records") {
		t.Errorf("a stranger sees\n%s", words)
	}
	page := h.as(atDesk, "/phones/invite", nil, "x", "").Body.String()
	found := shownCode.FindStringSubmatch(page)
	if found == nil || !strings.Contains(page, "http://192.0.2.2:8973/pair#"+found[1]) || !strings.Contains(page, "http://[fd00::2]:8973/pair#") || !strings.Contains(page, `<svg class="qr"`) {
		t.Fatalf("no code, link or picture:\n%s", page)
	}
	if w := h.as(onSofa, "/pair", nil, "code", "0000-0000", "name", hostile); w.Code != http.StatusForbidden || !strings.Contains(w.Body.String(), "That is not the code") || strings.Contains(w.Body.String(), "<img") {
		t.Errorf("%d\n%s", w.Code, w.Body)
	}
	in := h.as(onSofa, "/pair", nil, "code", strings.ToLower(found[1]), "name", hostile)
	cookies := in.Result().Cookies()
	if in.Code != http.StatusSeeOther || in.Header().Get("Location") != "/" || len(cookies) != 1 {
		t.Fatalf("%d %v\n%s", in.Code, cookies, in.Body)
	}
	if w := h.as(onSofa, "/", cookies); w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "Yard kettle") || !strings.Contains(w.Body.String(), `href="/phones"`) {
		t.Errorf("paired, and sees %d", w.Code)
	}
	if w := h.as(onSofa, "/pair", cookies); !strings.Contains(w.Body.String(), "Nothing to pair") {
		t.Error("paired, and asked to pair")
	}
	list := h.as(onSofa, "/phones", cookies).Body.String()
	id := phoneID.FindStringSubmatch(list)
	if id == nil || !strings.Contains(list, "(this one)") || strings.Contains(list, "<img") || strings.Contains(list, "/phones/invite") {
		t.Fatalf("the list\n%s", list)
	}
	if w := h.as(onSofa, "/phones/invite", cookies, "x", ""); w.Code != http.StatusForbidden || shownCode.MatchString(w.Body.String()) {
		t.Errorf("a code is shown to a phone: %d", w.Code)
	}
	if w := h.as(atDesk, "/phones/revoke", nil, "phone", id[1]); w.Code != http.StatusSeeOther || len(h.p.Phones()) != 0 {
		t.Errorf("%d, %d phones", w.Code, len(h.p.Phones()))
	}
	if w := h.as(onSofa, "/", cookies); w.Code != http.StatusSeeOther {
		t.Errorf("taken off the list, and let in: %d", w.Code)
	}
	if w := h.as(atDesk, "/phones/revoke", nil, "phone", id[1]); w.Code != http.StatusSeeOther {
		t.Errorf("twice: %d", w.Code)
	}
}

func TestAStrangerStopsAndIsToldSo(t *testing.T) {
	h := newHouse(t)
	h.begin("rye-four-rests")
	w := h.as(onSofa, "/stop", nil, "x", "")
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/?said=stop" {
		t.Fatal(w.Code, w.Header())
	}
	w = h.as(onSofa, "/?said=stop", nil)
	if to := w.Header().Get("Location"); to != "/pair?said=stop" || !strings.Contains(h.as(onSofa, to, nil).Body.String(), "Stopped.") {
		t.Errorf("led to %q", to)
	}
}

func TestTooManyWrongCodesAreSaidAndNobodyIsLetInWhereNobodyMay(t *testing.T) {
	h := newHouse(t)
	for i, want := range []int{403, 403, 403, 403, 403, 429} {
		if w := h.as(onSofa, "/pair", nil, "code", "x", "name", ""); w.Code != want {
			t.Errorf("wrong code %d: %d, want %d", i+1, w.Code, want)
		}
	}
	alone := newBench(t)
	if status, _, body := alone.post("/pair", "code", "x"); status != http.StatusConflict || !strings.Contains(body, "Only this machine is served") {
		t.Errorf("%d\n%s", status, body)
	}
	if status, body := alone.get("/phones"); status != http.StatusOK || !strings.Contains(body, "Only this machine is served") {
		t.Errorf("%d\n%s", status, body)
	}
}
