package pairing

import (
	"context"
	"crypto/tls"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func TestWhoeverIsNotPairedSeesHowToPairAndMayStop(t *testing.T) {
	h := newHall(t, t.TempDir())
	for _, c := range []struct {
		method, path string
		status       int // 418 is let in
	}{
		{"POST", "/stop", 418},
		{"POST", "/api/v1/stop", 418},
		{"GET", "/pair", 418},
		{"HEAD", "/pair", 418},
		{"POST", "/pair", 418},
		{"POST", "/api/v1/pair", 418},
		{"GET", "/static/page.css", 418},
		{"HEAD", "/static/page.js", 418},
		{"GET", "/", 303},
		{"HEAD", "/", 303},
		{"GET", "/records", 303},
		{"POST", "/do", 303},
		{"POST", "/unit", 303},
		{"GET", "/strip.svg", 303},
		{"GET", "/stop", 303},
		{"PUT", "/stop", 401},
		{"DELETE", "/pair", 401},
		{"POST", "/static/page.css", 303},
		{"GET", "/static/", 303},
		{"GET", "/static/a/b", 303},
		{"GET", "/static/..", 303},
		{"POST", "//stop", 303},
		{"POST", "/stop/", 303},
		{"POST", "/x/../stop", 303},
		{"POST", "/api/v1/stop/", 401},
		{"POST", "/API/v1/stop", 303},
		{"GET", "/api/v1/stop", 401},
		{"GET", "/api/v1/state", 401},
		{"GET", "/api/v1/events", 401},
		{"POST", "/api/v1/start", 401},
		{"POST", "/api/v1/phones/invite", 401},
		{"GET", "/api/v1/openapi.json", 401},
		{"OPTIONS", "/", 401},
		{"CONNECT", "/api/v1/state", 401},
		{"TRACE", "/", 401},
		{"GET", "/metrics", 401},
		{"POST", "/metrics", 303},
		{"GET", "/-/ready", 401},
		{"GET", "/-/healthy", 401},
	} {
		h.came = 0
		w := h.ask(sofa, c.method, c.path)
		if w.Code != c.status || (h.came == 1) != (c.status == 418) {
			t.Errorf("%s %s: %d, came in %d; want %d", c.method, c.path, w.Code, h.came, c.status)
		}
		if c.status == 303 && w.Header().Get("Location") != "/pair" {
			t.Errorf("%s %s: to %q", c.method, c.path, w.Header().Get("Location"))
		}
		if c.status == 401 && w.Header().Get("WWW-Authenticate") == "" { // RFC 9110, section 15.5.2
			t.Errorf("%s %s: 401 without a challenge", c.method, c.path)
		}
	}
	if w := h.ask(sofa, "GET", "/?said=stop-idle"); w.Header().Get("Location") != "/pair?said=stop-idle" {
		t.Errorf("what STOP has to say is lost: %q", w.Header().Get("Location"))
	}
}

func TestThisMachineNeedsNoPairingUnlessItAsksForOthers(t *testing.T) {
	h := newHall(t, t.TempDir())
	if w := h.ask(here, "POST", "/api/v1/start"); w.Code != 418 || !h.visitor.Here {
		t.Error(w.Code, h.visitor)
	}
	if w := h.ask(here, "GET", "/metrics"); w.Code != 418 {
		t.Error(w.Code)
	}
	if w := h.ask(here, "POST", "/api/v1/start", "X-Forwarded-For", "203.0.113.9"); w.Code != 401 {
		t.Error(w.Code)
	}
	closed := &hall{t: t, Pairing: Closed()}
	if w := closed.ask(here, "GET", "/"); w.Code != 418 {
		t.Error(w.Code)
	}
	for path, want := range map[string]int{"/api/v1/state": 403, "/": 403, "/pair": 403, "/metrics": 403} {
		if w := closed.ask(here, "GET", path, "Forwarded", "for=203.0.113.9"); w.Code != want {
			t.Errorf("%s for somebody else: %d, want %d", path, w.Code, want)
		}
	}
	if w := closed.ask(here, "POST", "/stop", "Forwarded", "for=203.0.113.9"); w.Code != 418 {
		t.Errorf("STOP for somebody else: %d", w.Code)
	}
}

// basic is what a calendar sends that is told a password.
func basic(password string) string {
	r := httptest.NewRequest("GET", "/", nil)
	r.SetBasicAuth("anything", password)
	return r.Header.Get("Authorization")
}

func TestATokenIsKnownAsCookieOrBearerAndNowhereElse(t *testing.T) {
	h := newHall(t, t.TempDir())
	phone, token := h.pair("Sofa")
	_, other := newHall(t, t.TempDir()).pair("Sofa")
	scrape, err := os.ReadFile(filepath.Join(h.folder, ScrapeFile))
	if err != nil {
		t.Fatal(err)
	}
	n, good := h.cookie(token)
	bearer := "Bearer " + token
	for name, c := range map[string]struct {
		path   string
		header []string
		in     bool
	}{
		"the cookie":                  {"/", []string{n, good}, true},
		"among other cookies":         {"/", []string{n, "scale=F; " + good}, true},
		"the header":                  {"/api/v1/state", []string{"Authorization", bearer}, true},
		"in small letters":            {"/api/v1/state", []string{"Authorization", "bearer " + token}, true},
		"nothing":                     {"/api/v1/state", nil, false},
		"an empty cookie":             {"/api/v1/state", []string{n, h.Cookie() + "="}, false},
		"an empty header":             {"/api/v1/state", []string{"Authorization", "Bearer "}, false},
		"a header without a word":     {"/api/v1/state", []string{"Authorization", ""}, false},
		"in the address":              {"/api/v1/state?token=" + token, nil, false},
		"as a user":                   {"/api/v1/state", []string{"Authorization", "Basic " + token}, false},
		"a password":                  {"/api/v1/state", []string{"Authorization", basic(token)}, false},
		"a calendar's password":       {"/calendar.ics", []string{"Authorization", basic(token)}, true},
		"a calendar's wrong password": {"/calendar.ics", []string{"Authorization", basic(other)}, false},
		"a calendar without one":      {"/calendar.ics", []string{"Authorization", basic("")}, false},
		"two headers":                 {"/api/v1/state", []string{"Authorization", bearer, "Authorization", bearer}, false},
		"a bad header, a good cookie": {"/api/v1/state", []string{"Authorization", "Bearer x", n, good}, false},
		"cut":                         {"/api/v1/state", []string{"Authorization", bearer[:len(bearer)-1]}, false},
		"longer":                      {"/api/v1/state", []string{"Authorization", bearer + "A"}, false},
		"very long":                   {"/api/v1/state", []string{"Authorization", "Bearer " + strings.Repeat("A", 15<<10)}, false},
		"padded":                      {"/api/v1/state", []string{"Authorization", bearer + "="}, false},
		"of another kettle":           {"/api/v1/state", []string{"Authorization", "Bearer " + other}, false},
		"the name of the phone":       {"/api/v1/state", []string{"Authorization", "Bearer " + phone.ID}, false},
		"a cookie of another port":    {"/api/v1/state", []string{n, "mashward_phone_8974=" + token}, false},
		"the scraper's":               {"/api/v1/state", []string{"Authorization", "Bearer " + strings.TrimSpace(string(scrape))}, false},
		"the scraper's, to scrape":    {"/metrics", []string{"Authorization", "Bearer " + strings.TrimSpace(string(scrape))}, true},
		"the scraper's, as a cookie":  {"/metrics", []string{n, h.Cookie() + "=" + strings.TrimSpace(string(scrape))}, false},
		"a phone's, to scrape":        {"/metrics", []string{"Authorization", bearer}, false},
		"a phone's, whether it lives": {"/-/ready", []string{n, good}, true},
	} {
		h.came, h.now = 0, h.now.Add(time.Hour) // so that nobody is held up
		w := h.ask(sofa, "GET", c.path, c.header...)
		if (h.came == 1) != c.in {
			t.Errorf("%s: %d", name, w.Code)
		}
		if c.in && c.path == "/" && (h.visitor.Phone == nil || h.visitor.Phone.ID != phone.ID || h.visitor.Here) {
			t.Errorf("%s: taken for %+v", name, h.visitor)
		}
	}
}

func TestWrongTokensAreHeldUpButNeitherARightOneNorSTOP(t *testing.T) {
	h := newHall(t, t.TempDir())
	_, token := h.pair("Sofa")
	n, stale := h.cookie(strings.Repeat("A", 43))
	for i := range 100 {
		want := http.StatusUnauthorized
		if i >= perMinute {
			want = http.StatusTooManyRequests
		}
		w := h.ask(sofa, "GET", "/api/v1/state", n, stale)
		if w.Code != want || want == http.StatusTooManyRequests && w.Header().Get("Retry-After") == "" {
			t.Fatalf("try %d: %d, want %d", i, w.Code, want)
		}
		if forgets := strings.Contains(w.Header().Get("Set-Cookie"), "Max-Age=0"); want == http.StatusUnauthorized && !forgets {
			t.Errorf("the browser keeps a token that is none: %q", w.Header().Get("Set-Cookie"))
		}
	}
	if w := h.ask(sofa, "POST", "/api/v1/stop", n, stale); w.Code != 418 {
		t.Errorf("STOP: %d", w.Code)
	}
	n, good := h.cookie(token)
	if w := h.ask(sofa, "GET", "/api/v1/state", n, good); w.Code != 418 {
		t.Errorf("a right token from the same address: %d", w.Code)
	}
}

// A phone that looks at what is a scraper's is no guesser, and keeps its token.
func TestAPhoneThatAsksForTheMetricsStaysPaired(t *testing.T) {
	h := newHall(t, t.TempDir())
	_, token := h.pair("Sofa")
	n, good := h.cookie(token)
	for range 2 * perMinute {
		if w := h.ask(sofa, "GET", "/metrics", n, good); w.Code != http.StatusUnauthorized || w.Header().Get("Set-Cookie") != "" {
			t.Fatalf("%d, %q", w.Code, w.Header().Get("Set-Cookie"))
		}
	}
}

func TestWhatAPhoneAsksIsInTheLogWithItsName(t *testing.T) {
	h := newHall(t, t.TempDir())
	phone, token := h.pair("Sofa\nlevel=ERROR")
	h.log.Reset()
	n, good := h.cookie(token)
	h.ask(sofa, "POST", "/api/v1/start", n, good)
	h.ask(sofa, "GET", "/", n, good) // looking is no order
	if said := h.log.String(); strings.Count(said, "\n") != 1 || !strings.Contains(said, phone.ID) || !strings.Contains(said, `name="Sofa level=ERROR"`) || !strings.Contains(said, "for=/api/v1/start") {
		t.Errorf("the log says %q", said)
	}
}

func TestTheCookieIsForNoScriptAndNoOtherSite(t *testing.T) {
	h := newHall(t, t.TempDir())
	for _, secure := range []bool{false, true} {
		r, w := httptest.NewRequest("POST", "/pair", nil), httptest.NewRecorder()
		if secure {
			r.TLS = &tls.ConnectionState{}
		}
		h.Keep(w, r, "x")
		c := w.Result().Cookies()[0]
		if !c.HttpOnly || c.SameSite != http.SameSiteStrictMode || c.Path != "/" || c.Domain != "" || c.Name != "mashward_phone_8973" || c.Secure != secure {
			t.Errorf("%+v", c)
		}
	}
}

// The list is written to a disk that hangs: whoever is known goes in, and STOP.
func TestNobodyWaitsForTheListToBeWritten(t *testing.T) {
	h := newHall(t, t.TempDir())
	_, token := h.pair("Sofa")
	h.mu.Lock() // as Pair and Revoke hold it while they write
	defer h.mu.Unlock()
	h.counting.Lock()
	done := make(chan [2]int, 1)
	n, good := h.cookie(token)
	go func() {
		done <- [2]int{h.ask(sofa, "POST", "/stop", n, "wrong").Code, h.ask(sofa, "GET", "/", n, good).Code}
	}()
	select {
	case got := <-done:
		if got != [2]int{418, 418} {
			t.Error(got)
		}
	case <-time.After(10 * time.Second):
		t.Error("held up")
	}
	h.counting.Unlock()
}

func TestARevokedPhoneLosesWhatItHasOpen(t *testing.T) {
	h := newHall(t, t.TempDir())
	phone, token := h.pair("Sofa")
	_, shed := h.pair("Shed")
	open := func(token string) (context.Context, func()) {
		in, leave := make(chan context.Context), make(chan struct{})
		r := httptest.NewRequest("GET", "/api/v1/events", nil)
		r.RemoteAddr = sofa
		r.AddCookie(&http.Cookie{Name: h.Cookie(), Value: token})
		go h.Door(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) { in <- r.Context(); <-leave })).ServeHTTP(httptest.NewRecorder(), r)
		return <-in, func() { close(leave) }
	}
	mine, end := open(token)
	defer end()
	others, endOthers := open(shed)
	defer endOthers()
	if err := h.Revoke(phone.ID); err != nil {
		t.Fatal(err)
	}
	select {
	case <-mine.Done():
	case <-time.After(10 * time.Second):
		t.Error("the stream of a revoked phone goes on")
	}
	if others.Err() != nil {
		t.Error("another's has ended")
	}
	if err := h.Revoke(phone.ID); err != ErrNoPhone {
		t.Error(err)
	}
}

func TestTheScrapeTokenIsMadeOnceAndForItsOwnerAlone(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, ScrapeFile)
	newHall(t, folder)
	first, err := os.ReadFile(path)
	if err != nil || !maybeToken(strings.TrimSpace(string(first))) {
		t.Fatalf("%q %v", first, err)
	}
	newHall(t, folder)
	if second, err := os.ReadFile(path); err != nil || string(second) != string(first) {
		t.Errorf("another one after a restart, %v", err)
	}
	for name, c := range map[string]struct {
		text string
		mode os.FileMode
	}{
		"empty": {"", 0o600}, "short": {"abc", 0o600}, "two": {strings.Repeat("a", 30) + " b", 0o600}, "for all": {string(first), 0o644}, "for the group": {string(first), 0o640},
	} {
		if err := os.Remove(path); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(c.text), c.mode); err != nil {
			t.Fatal(err)
		}
		if _, err := New(Options{State: folder, Links: func() []string { return []string{"x"} }}); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
	if _, err := New(Options{Links: func() []string { return []string{"x"} }}); err == nil {
		t.Error("without a folder for its secrets it is open")
	}
}
