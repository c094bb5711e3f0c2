package main

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/notify"
	"mashward/cmd/mashward/internal/pairing"
	"mashward/cmd/mashward/internal/web"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/unit"
)

// fort is the whole site of a simulated kettle as a network sees it, with
// everything noted that gets as far as a route, and each tick with heat.
type fort struct {
	t       *testing.T
	daemon  *daemon.Daemon
	pairing *pairing.Pairing
	inside  http.Handler // without a door
	handler http.Handler
	state   string
	log     lockedText

	mu      sync.Mutex
	reached map[string]bool // method and path
	hot     atomic.Int64    // ticks with heat
}

// lockedText is a log that several write.
type lockedText struct {
	mu   sync.Mutex
	text strings.Builder
}

func (l *lockedText) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(p)
}

func (l *lockedText) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.String()
}

// Watch counts the ticks in which the element may be on.
func (f *fort) Watch(frame *loop.Frame) {
	if frame.Permitted == unit.On {
		f.hot.Add(1)
	}
}

const (
	ownEnd   = "192.0.2.2:8973"     // of the machine that mashward runs on
	stranger = "192.0.2.66:40000"   // on the same network
	owner    = "192.0.2.77:40000"   // too, with a phone that is paired
	atDesk   = "127.0.0.1:40000"    // at the machine itself
	warm     = "warm-water"         // a profile
	canary   = "canary-in-the-mine" // a code, a token, a name that must turn up nowhere
)

// warmWater is a short day: what is attacked is the way to it.
const warmWater = `profile: Warm water, for strangers
water: 26 L
steps:
  - {rest: 45 °C, for: 2 min}
`

func newFort(t *testing.T) *fort {
	t.Helper()
	f := &fort{t: t, reached: map[string]bool{}, state: t.TempDir()}
	rig, _, err := config.LoadRig(yard)
	if err != nil {
		t.Fatal(err)
	}
	rigText, err := os.ReadFile(yard)
	if err != nil {
		t.Fatal(err)
	}
	profiles := t.TempDir()
	if err := os.WriteFile(filepath.Join(profiles, warm+".yaml"), []byte(warmWater), 0o600); err != nil {
		t.Fatal(err)
	}
	log := slog.New(slog.NewTextHandler(&f.log, nil))
	f.pairing, err = pairing.New(pairing.Options{State: f.state, Links: func() []string { return []string{"http://" + ownEnd} }, Port: "8973", Now: time.Now, Log: log})
	if err != nil {
		t.Fatal(err)
	}
	s := newPairedSite(daemon.Options{
		RigPath: yard, Rig: rig, RigText: rigText, Profiles: profiles, Records: filepath.Join(f.state, recordsFolder), Plant: rig.Plant(), Simulated: true, Program: "test",
		Kettle: daemon.NewSimulated(rig, rig.Plant(), 100), Now: time.Now, Log: log, Watchers: []loop.Watcher{f},
	}, notify.Options{}, f.pairing, nil)
	f.daemon, f.inside = s.daemon, s.handler
	f.handler = web.Guard(f.pairing.Door(f.noting(s.handler)), "vm", "vm.local")
	ctx, end := context.WithCancel(context.Background())
	ended := make(chan struct{})
	go func() { s.daemon.Run(ctx); close(ended) }()
	t.Cleanup(func() { end(); <-ended })
	f.until("a first tick", func(s *daemon.Snapshot) bool { return s.Number > 0 })
	return f
}

func (f *fort) noting(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if web.From(r).String() == "192.0.2.66" {
			f.mu.Lock()
			f.reached[r.Method+" "+r.URL.Path] = true
			f.mu.Unlock()
		}
		next.ServeHTTP(w, r)
	})
}

func (f *fort) until(what string, so func(*daemon.Snapshot) bool) {
	f.t.Helper()
	over := time.After(30 * time.Second)
	for {
		changed := f.daemon.Changed()
		if so(f.daemon.Latest()) {
			return
		}
		select {
		case <-changed:
		case <-over:
			f.t.Fatal("never: " + what)
		}
	}
}

// ask asks the site; a body that begins with { is JSON, another one a form.
func (f *fort) ask(from, method, path, body string, header ...string) *httptest.ResponseRecorder {
	f.t.Helper()
	r := httptest.NewRequest("GET", "/", strings.NewReader(body)) // the method and the path of an attacker are not checked by a client
	r.Method, r.URL.Path, r.RequestURI = method, path, path
	if p, query, ok := strings.Cut(path, "?"); ok {
		r.URL.Path, r.URL.RawQuery = p, query
	}
	r.RemoteAddr, r.Host = from, ownEnd
	end := ownEnd
	if from == atDesk {
		r.Host, end = "localhost:8973", "127.0.0.1:8973"
	}
	local, err := net.ResolveTCPAddr("tcp", end)
	if err != nil {
		f.t.Fatal(err)
	}
	if strings.HasPrefix(body, "{") {
		r.Header.Set("Content-Type", "application/json")
	} else if body != "" {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for _, h := range header {
		name, value, _ := strings.Cut(h, ": ")
		if name == "Host" {
			r.Host = value
		} else {
			r.Header.Set(name, value)
		}
	}
	// A stream that is let in must not hold the test up.
	ctx, cancel := context.WithTimeout(context.WithValue(r.Context(), http.LocalAddrContextKey, net.Addr(local)), 20*time.Second)
	defer cancel()
	w := httptest.NewRecorder()
	f.handler.ServeHTTP(w, r.WithContext(ctx))
	return w
}

// answered reads an answer that has to be good.
func answered[T any](f *fort, w *httptest.ResponseRecorder) (v T) {
	f.t.Helper()
	if err := json.Unmarshal(w.Body.Bytes(), &v); err != nil || w.Code != http.StatusOK {
		f.t.Fatalf("%d %v %s", w.Code, err, w.Body)
	}
	return v
}

// arm has the owner arm at the machine itself and gives the nonce.
func (f *fort) arm() string {
	f.t.Helper()
	hash := answered[struct{ Hash string }](f, f.ask(atDesk, "POST", "/api/v1/rehearsal", `{"profile": "`+warm+`"}`)).Hash
	body := fmt.Sprintf(`{"profile": %q, "hash": %q, "litres": 26, "bag_clear": true, "valve_shut": true, "rcd_tested": true}`, warm, hash)
	return answered[struct{ Nonce string }](f, f.ask(atDesk, "POST", "/api/v1/arm", body)).Nonce
}

// pair pairs the owner's phone and gives the header that it is known by.
func (f *fort) pair(name string) string {
	f.t.Helper()
	i := answered[struct{ Code string }](f, f.ask(atDesk, "POST", "/api/v1/phones/invite", "{}"))
	return "Authorization: Bearer " + answered[struct{ Token string }](f, f.ask(owner, "POST", "/api/v1/pair", fmt.Sprintf(`{"code": %q, "name": %q}`, i.Code, name))).Token
}

var methods = []string{"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "CONNECT", "PROPFIND"}

// allowed is all that a stranger may reach.
var allowed = regexp.MustCompile(`^(POST /stop|POST /api/v1/stop|(GET|HEAD|POST) /pair|POST /api/v1/pair|(GET|HEAD) /static/[^/]+)$`)

// storm asks for everything, in every way, with nothing and with what is forged,
// and with the nonce of an arming in each body.
func (f *fort) storm(nonce string, skip func(method, path string) bool) (asked int) {
	f.t.Helper()
	forged := [][]string{
		nil,
		{"Authorization: Bearer " + strings.Repeat("A", 43)},
		{"Cookie: " + f.pairing.Cookie() + "=" + strings.Repeat("B", 43)},
		{"Cookie: " + f.pairing.Cookie() + "="},
		{"X-Forwarded-For: 127.0.0.1"},
		{"Forwarded: for=127.0.0.1;host=localhost"},
		{"X-Real-Ip: ::1", "X-Forwarded-Host: localhost:8973"},
	}
	bodies := []string{
		fmt.Sprintf(`{"nonce": %q}`, nonce), "wish=resume&batch=x&litres=26&bag=yes&valve=yes&rcd=yes&code=0000-0000&name=x",
	}
	for _, path := range every(f.t) {
		path = strings.NewReplacer("{$}", "", "{id}", warm, "{nonce}", nonce, "{file}", "page.css").Replace(path)
		for _, method := range methods {
			if skip(method, path) {
				continue
			}
			headers, texts := forged[:1], bodies[:1] // of methods that nothing here answers
			if method == "GET" || method == "POST" {
				headers = forged
			}
			if method == "POST" {
				texts = bodies
			}
			for _, header := range headers {
				for _, body := range texts {
					asked++
					f.turnedAway(method, path, f.ask(stranger, method, path, body, header...))
				}
			}
		}
	}
	return asked
}

// turnedAway wants that a stranger got nothing but what is his.
func (f *fort) turnedAway(method, path string, w *httptest.ResponseRecorder) {
	f.t.Helper()
	if allowed.MatchString(method + " " + path) {
		return
	}
	switch {
	case w.Code == http.StatusUnauthorized, w.Code == http.StatusTooManyRequests:
	case w.Code == http.StatusSeeOther && strings.HasPrefix(w.Header().Get("Location"), "/pair"):
	default:
		f.t.Errorf("%s %s: a stranger is answered %d %.200s", method, path, w.Code, w.Body)
	}
}

func isSTOP(method, path string) bool {
	return method == "POST" && (path == "/stop" || path == "/api/v1/stop")
}

// TestAStrangerOnTheNetworkCanStopAndNothingElse is the attack: every route, every
// method, no token and forged ones, foreign origins, foreign names, a stolen nonce
// before it was used and after. What counts is the element, and what was reached.
func TestAStrangerOnTheNetworkCanStopAndNothingElse(t *testing.T) {
	f := newFort(t)
	nonce := f.arm() // and the stranger has got hold of it
	asked := f.storm(nonce, isSTOP)
	f.abroad(nonce, "")
	if f.hot.Load() != 0 || f.daemon.Latest().Batch != nil {
		t.Fatalf("after %d requests the element was on for %d ticks, batch %v", asked, f.hot.Load(), f.daemon.Latest().Batch)
	}
	// Nothing of it touched the arming: the owner's phone begins with it.
	phone := f.pair(canary)
	f.abroad(nonce, phone)
	if w := f.ask(owner, "POST", "/api/v1/start", fmt.Sprintf(`{"nonce": %q}`, nonce), phone); w.Code != http.StatusOK {
		t.Fatalf("%d %s", w.Code, w.Body)
	}
	f.until("heat", func(s *daemon.Snapshot) bool { return s.Heating == unit.On })
	batch := f.daemon.Latest().Batch.ID

	asked += f.storm(nonce, isSTOP)
	if s := f.daemon.Latest(); s.Batch == nil || s.Batch.ID != batch || s.Decision.Mode != controller.Running {
		t.Errorf("strangers changed the batch: %s", s.Decision.Mode)
	}
	if w := f.ask(stranger, "POST", "/api/v1/stop", ""); w.Code != http.StatusOK {
		t.Errorf("STOP: %d %s", w.Code, w.Body)
	}
	f.until("held", func(s *daemon.Snapshot) bool { return s.Decision.Mode == controller.Held })
	stopped := f.hot.Load()
	asked += f.storm(nonce, func(string, string) bool { return false })
	f.abroad(nonce, phone)
	// Replayed by whom it belonged to, it is spent.
	if w := f.ask(owner, "POST", "/api/v1/start", fmt.Sprintf(`{"nonce": %q}`, nonce), phone); w.Code != http.StatusConflict && w.Code != http.StatusForbidden {
		t.Errorf("a nonce that was used: %d %s", w.Code, w.Body)
	}
	number := f.daemon.Latest().Number
	f.until("some ticks", func(s *daemon.Snapshot) bool { return s.Number > number+20 })
	if s := f.daemon.Latest(); f.hot.Load() != stopped || s.Decision.Mode != controller.Held || s.Batch.ID != batch {
		t.Errorf("after STOP: %d ticks with heat, %s", f.hot.Load()-stopped, s.Decision.Mode)
	}
	for what := range f.reached {
		if !allowed.MatchString(what) {
			t.Errorf("a stranger reached %s", what)
		}
	}
	if !f.reached["POST /stop"] || !f.reached["POST /api/v1/stop"] {
		t.Error("STOP was not reached")
	}
	t.Logf("%d requests of a stranger", asked)
}

// abroad asks as a browser would that a foreign page has in its hands: even with
// the token of a phone that is paired.
func (f *fort) abroad(nonce, known string) {
	f.t.Helper()
	for _, c := range []struct {
		header string
		want   int
	}{
		{"Origin: http://evil.example", http.StatusForbidden},
		{"Origin: null", http.StatusForbidden},
		{"Origin: http://192.0.2.2:1", http.StatusForbidden},
		{"Sec-Fetch-Site: cross-site", http.StatusForbidden},
		{"Host: evil.example:8973", http.StatusMisdirectedRequest},
		{"Host: vm.local.evil.example:8973", http.StatusMisdirectedRequest},
		{"Host: vm.local.:8973", http.StatusMisdirectedRequest},
		{"Host: localhost:8973", http.StatusMisdirectedRequest},
		{"Host: 127.0.0.1:8973", http.StatusMisdirectedRequest},
		{"Host: 192.0.2.2:80", http.StatusMisdirectedRequest},
		{"Host: ", http.StatusMisdirectedRequest},
	} {
		for path, body := range map[string]string{
			"/api/v1/start": fmt.Sprintf(`{"nonce": %q}`, nonce), "/confirm/" + nonce: "x=1", "/api/v1/command": `{"wish": "resume"}`, "/do": "wish=resume", "/stop": "", "/pair": "code=x",
		} {
			header := []string{c.header}
			if known != "" {
				header = append(header, known)
			}
			if w := f.ask(owner, "POST", path, body, header...); w.Code != c.want {
				f.t.Errorf("POST %s with %s: %d, want %d: %.200s", path, c.header, w.Code, c.want, w.Body)
			}
		}
		for _, path := range []string{"/", "/api/v1/state", "/api/v1/events", "/metrics", "/static/page.css", "/pair"} {
			if w := f.ask(stranger, "GET", path, "", c.header); c.want == http.StatusMisdirectedRequest && w.Code != c.want {
				f.t.Errorf("GET %s with %s: %d", path, c.header, w.Code)
			}
		}
	}
}

// A token, a code: they go to the one phone, and turn up nowhere else.
func TestNoSecretTurnsUpAnywhere(t *testing.T) {
	f := newFort(t)
	phone := f.pair("Sofa")
	invited := answered[struct{ Code string }](f, f.ask(atDesk, "POST", "/api/v1/phones/invite", "{}"))
	scrape, err := os.ReadFile(filepath.Join(f.state, pairing.ScrapeFile))
	if err != nil {
		t.Fatal(err)
	}
	secrets := []string{strings.TrimPrefix(phone, "Authorization: Bearer "), invited.Code, strings.TrimSpace(string(scrape))}
	nonce := f.arm()
	if w := f.ask(owner, "POST", "/api/v1/start", fmt.Sprintf(`{"nonce": %q}`, nonce), phone); w.Code != http.StatusOK {
		t.Fatalf("%d %s", w.Code, w.Body)
	}
	f.until("some minutes", func(s *daemon.Snapshot) bool { return s.Decision.Clock > 20*time.Second })
	var seen strings.Builder
	for _, path := range every(t) {
		if path == "/api/v1/events" {
			continue // has no end; it is the state
		}
		id := warm
		if strings.Contains(path, "records") {
			id = f.daemon.Latest().Batch.ID
		}
		path = strings.NewReplacer("{$}", "", "{id}", id, "{nonce}", nonce, "{file}", "page.css").Replace(path)
		w := f.ask(owner, "GET", path, "", phone)
		fmt.Fprint(&seen, path, w.Header(), w.Body)
	}
	fmt.Fprint(&seen, f.ask(owner, "GET", "/metrics", "", "Authorization: Bearer "+secrets[2]).Body, f.ask(atDesk, "GET", "/metrics", "").Body)
	f.ask(owner, "POST", "/api/v1/pair", fmt.Sprintf(`{"code": %q, "name": "x"}`, canary))
	f.ask(owner, "POST", "/pair", "code="+canary+"&name=x")
	f.ask(owner, "GET", "/api/v1/state?token="+canary, "", "Authorization: Bearer "+canary)
	f.ask(owner, "GET", "/", "", "Cookie: "+f.pairing.Cookie()+"="+canary)
	fmt.Fprint(&seen, f.log.String())
	err = filepath.WalkDir(f.state, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() || filepath.Base(path) == pairing.ScrapeFile {
			return err
		}
		text, err := os.ReadFile(path)
		seen.Write(text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range append(secrets, canary) {
		if s == "" || strings.Contains(seen.String(), s) {
			t.Errorf("%q turned up", s)
		}
	}
	for _, word := range []string{"mashward_simulated 1", "Warm water, for strangers", "a phone is paired", "token_sha256", "Sofa"} {
		if !strings.Contains(seen.String(), word) {
			t.Errorf("there was no %q: nothing was looked at", word)
		}
	}
}
