package page

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/mashward/internal/api"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/wall"
	"mashward/cmd/mashward/internal/web"
	"mashward/controller"
	"mashward/profile"
	"mashward/profile/strict"
	"mashward/sensors"
	"mashward/testdata"
)

// pot is a simulated kettle that goes as fast as it can until something is so,
// and otherwise at speed.
type pot struct {
	*daemon.Simulated
	pace   wall.Pace
	speed  float64
	daemon *daemon.Daemon
	hurry  atomic.Pointer[hurry]
	blind  atomic.Bool
	frozen sync.Mutex // held: the loop does not come round
}

type hurry struct {
	until   func(*daemon.Snapshot) bool
	reached chan struct{}
}

// Next implements loop.Pacer.
func (p *pot) Next() (time.Duration, bool) {
	p.frozen.Lock()
	p.frozen.Unlock() //lint:ignore SA2001 a gate: whoever holds it holds the pot up
	h := p.hurry.Load()
	if h != nil && h.until(p.daemon.Latest()) {
		p.hurry.Store(nil)
		close(h.reached)
		h = nil
	}
	if h == nil {
		p.pace.Wait(p.speed)
	}
	return p.Simulated.Next()
}

// Latest implements sensors.Probe; the probe can be pulled out of its plug.
func (p *pot) Latest() sensors.Reading {
	r := p.Simulated.Latest()
	if p.blind.Load() {
		r.Fault = sensors.Open
	}
	return r
}

// bench is a daemon on a pot with its pages in front of it.
type bench struct {
	t       testing.TB
	daemon  *daemon.Daemon
	pot     *pot
	records string
	folder  string
	handler http.Handler
	api     *api.API
	options Options
	end     func()
}

type setting func(*daemon.Options, *pot)

// speed is how many times real time the pot goes when nobody hurries it.
func speed(times float64) setting { return func(_ *daemon.Options, p *pot) { p.speed = times } }

// hostile is a profile whose words are markup.
const hostile = `<script>document.title='taken'</script><img src=x onerror=x()>`

func newBench(t testing.TB, settings ...setting) *bench {
	t.Helper()
	b := &bench{t: t, folder: t.TempDir(), records: t.TempDir()}
	sample := read(t, "profiles/rye-four-rests.yaml")
	b.write("rye-four-rests", sample)
	b.write("hostile", strings.Replace(sample, "profile: Rye, four rests", "profile: \""+hostile+"\"", 1))
	b.write("broken", strings.Replace(sample, "26 L", "26 kg", 1))
	rigText := read(t, "rigs/yard-kettle.yaml")
	rig, faults := config.ParseRig("yard-kettle.yaml", []byte(rigText))
	if strict.Refused(faults) {
		t.Fatal(faults)
	}
	b.pot = &pot{Simulated: daemon.NewSimulated(rig, rig.Plant(), 0), speed: 20}
	o := daemon.Options{
		RigPath: "yard-kettle.yaml", Rig: rig, RigText: []byte(rigText), Profiles: b.folder, Records: b.records,
		Plant: rig.Plant(), Simulated: true, Program: "test", Kettle: b.pot, Now: time.Now, Log: quiet(),
	}
	for _, set := range settings {
		set(&o, b.pot)
	}
	b.daemon = daemon.New(o)
	b.pot.daemon = b.daemon
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan struct{})
	go func() { b.daemon.Run(ctx); close(ended) }()
	b.end = func() { cancel(); <-ended }
	t.Cleanup(b.end)
	b.options = Options{Daemon: b.daemon, Records: b.records, Now: time.Now, Log: slog.New(slog.NewTextHandler(t.Output(), nil))}
	b.handler = New(b.options)
	b.api = api.New(api.Options{Daemon: b.daemon, Records: b.records, Now: time.Now, Log: quiet()})
	return b
}

// broken is a rig file with faults: there is no kettle.
func broken(o *daemon.Options, _ *pot) {
	_, o.RigFaults = config.ParseRig("yard-kettle.yaml", []byte("rig: <b>Yard</b>\nkettle: {capacity: 50}\n"))
	o.Rig, o.Kettle = config.Rig{}, nil
}

func quiet() *slog.Logger { return slog.New(slog.NewTextHandler(io.Discard, nil)) }

func read(t testing.TB, name string) string {
	t.Helper()
	text, err := testdata.Samples.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func (b *bench) write(id, text string) {
	b.t.Helper()
	if err := os.WriteFile(filepath.Join(b.folder, id+".yaml"), []byte(text), 0o600); err != nil {
		b.t.Fatal(err)
	}
}

// until lets the pot hurry until something is so.
func (b *bench) until(what string, so func(*daemon.Snapshot) bool) {
	b.t.Helper()
	h := &hurry{until: so, reached: make(chan struct{})}
	b.pot.hurry.Store(h)
	select {
	case <-h.reached:
	case <-time.After(time.Minute):
		d := &b.daemon.Latest().Decision
		b.t.Fatalf("never came to %s; %s, %s, prompt %s, at %v", what, d.Mode, d.Stage, d.Prompt, d.Clock)
	}
}

// stage hurries to a stage of a kind of step.
func (b *bench) stage(kind profile.Kind, stage controller.Stage) {
	b.t.Helper()
	b.until(kind.String()+" "+stage.String(), func(s *daemon.Snapshot) bool {
		return s.Decision.Kind == kind && s.Decision.Stage == stage
	})
}

// press asks the daemon itself.
func (b *bench) press(c controller.Command) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	reply, err := b.daemon.Do(ctx, c)
	if err != nil || !reply.Accepted {
		b.t.Fatalf("%s: %v %v", c.Wish, err, reply.Why)
	}
}

// begin arms and begins a profile.
func (b *bench) begin(id string) {
	b.t.Helper()
	batch, _, err := b.daemon.Rehearse(id)
	if err != nil {
		b.t.Fatal(err)
	}
	nonce, _, err := b.daemon.Arm(id, batch.Hash, daemon.Statements{Litres: float64(batch.Profile.Water), BagClear: true, ValveShut: true, RCDTested: true})
	if err != nil {
		b.t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	if reply, err := b.daemon.Begin(ctx, nonce); err != nil || !reply.Accepted {
		b.t.Fatal(err, reply.Why)
	}
}

// hash is what a profile of the folder is called on this rig.
func (b *bench) hash(id string) string {
	b.t.Helper()
	batch, _, err := b.daemon.Plan(id)
	if err != nil {
		b.t.Fatal(err)
	}
	return batch.Hash
}

// get asks for a page.
func (b *bench) get(path string, cookies ...*http.Cookie) (int, string) {
	r := httptest.NewRequest("GET", path, nil)
	for _, c := range cookies {
		r.AddCookie(c)
	}
	w := httptest.NewRecorder()
	b.handler.ServeHTTP(w, r)
	return w.Code, w.Body.String()
}

// post sends a form and returns the status, where it leads and the body.
func (b *bench) post(path string, pairs ...string) (status int, to, body string) {
	form := url.Values{}
	for i := 0; i < len(pairs); i += 2 {
		form.Set(pairs[i], pairs[i+1])
	}
	r := httptest.NewRequest("POST", path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	b.handler.ServeHTTP(w, r)
	return w.Code, w.Header().Get("Location"), w.Body.String()
}

// site is page and interface together behind the wall that serve puts there.
func (b *bench) site() http.Handler {
	mux := http.NewServeMux()
	mux.Handle("/", b.handler)
	mux.Handle("/api/v1/", b.api)
	return mux
}

// listen serves the site at an address; ":0" takes a free port.
func (b *bench) listen(address string) *httptest.Server {
	b.t.Helper()
	s := httptest.NewUnstartedServer(web.Guard(b.site()))
	if address != "" {
		s.Listener.Close()
		s.Listener = relisten(b.t, address)
	}
	s.Start()
	return s
}

// shut ends a server with its streams: nobody gets in any more, then everyone
// is thrown out.
func shut(s *httptest.Server) {
	s.Listener.Close()
	s.CloseClientConnections()
	s.Close()
}
