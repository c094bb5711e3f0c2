package notify

import (
	"context"
	"net/http"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/notice"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/profile/strict"
	"mashward/sensors"
)

const rigText = `rig: Test kettle
kettle: {capacity: 50 L, element_covered_at: 12 L, vessel: 4.1 kJ/K, loss: 7 W/K}
element: {power: 3000 W, relay: {driver: gpio, line: GPIO17, type: solid-state}}
pump: {relay: {driver: gpio, line: GPIO27, type: mechanical}}
probe: {driver: w1, id: 28-0000075a1c3f, place: outlet, covered_at: 9 L}
`

const dayText = `profile: A short day
water: 26 L
grain: {mass: 4.6 kg, temperature: 18 °C}
steps:
  - {mash-in: 44 °C, for: 6 min}
  - {rest: 50 °C, for: 8 min}
  - {mash-out: 55 °C, for: 2 min}
  - lift
  - {boil: 12 min, additions: [{left: 6 min, add: hops}]}
  - {chill: 40 °C}
`

// pan is a simulated kettle whose probe can be taken away, and whose loop can be
// held up.
type pan struct {
	*daemon.Simulated
	blind atomic.Bool
	stuck atomic.Pointer[chan struct{}]
}

func (p *pan) Latest() sensors.Reading {
	r := p.Simulated.Latest()
	if p.blind.Load() {
		r.Fault = sensors.Open
	}
	return r
}

func (p *pan) Next() (time.Duration, bool) {
	if c := p.stuck.Load(); c != nil {
		<-*c
	}
	return p.Simulated.Next()
}

// hold keeps the pacer from its next tick until release is called.
func (p *pan) hold() (release func()) {
	c := make(chan struct{})
	p.stuck.Store(&c)
	return func() {
		p.stuck.Store(nil)
		close(c)
	}
}

// marks notes what each tick did and when, as a watcher.
type marks struct {
	mu  sync.Mutex
	all []mark
}

// mark is all that could tell one run from another.
type mark struct {
	at              time.Duration // by the clock of the test
	now, clock      time.Duration
	reading, duty   float64
	permitted, pump bool
	mode            controller.Mode
	step, count     uint8
}

// kettle is a daemon with its notifier, in a bubble.
type kettle struct {
	*testing.T
	air  *air
	d    *daemon.Daemon
	n    *Notifier
	pan  *pan
	ctx  context.Context
	said []Message
	mu   sync.Mutex
	end  func()
}

type marker struct {
	*marks
	began time.Time
}

func (m marker) Watch(f *loop.Frame) {
	m.mu.Lock()
	defer m.mu.Unlock()
	d := &f.Decision
	m.all = append(m.all, mark{
		time.Since(m.began), f.Tick.Now, d.Clock, float64(f.Tick.Reading.Value), float64(d.Duty),
		f.Permitted != 0, d.Pump != 0, d.Mode, d.Index, d.Count,
	})
}

// brewing runs a kettle with the short day armed and begun.
func brewing(t *testing.T, targets string, m *marks, f func(k *kettle)) {
	t.Helper()
	folder := t.TempDir()
	if err := os.WriteFile(filepath.Join(folder, "day.yaml"), []byte(dayText), 0o600); err != nil {
		t.Fatal(err)
	}
	rig, faults := config.ParseRig("rig.yaml", []byte(rigText))
	if strict.Refused(faults) {
		t.Fatal(faults)
	}
	bubble(t, func(t *testing.T, a *air) {
		k := &kettle{T: t, air: a, pan: &pan{Simulated: daemon.NewSimulated(rig, rig.Plant(), 1)}}
		k.d = daemon.New(daemon.Options{
			RigPath: "rig.yaml", Rig: rig, RigText: []byte(rigText), Profiles: folder, Plant: rig.Plant(), Simulated: true, Program: "test",
			Kettle: k.pan, Now: time.Now, Log: quiet(), Watchers: []loop.Watcher{marker{m, time.Now()}},
		})
		file, faults := notice.Parse("n.yaml", []byte(targets))
		if targets != "" && strict.Refused(faults) {
			t.Fatal(faults)
		}
		k.n = New(Options{File: file, Latest: k.d.Latest, Now: time.Now, Log: quiet(), Chance: func() float64 { return 0.5 }, Dial: a.dial, Say: k.hear})
		ctx, cancel := context.WithCancel(t.Context())
		var running sync.WaitGroup
		running.Add(2)
		go func() { defer running.Done(); k.d.Run(ctx) }()
		go func() { defer running.Done(); k.n.Run(ctx) }()
		k.ctx, k.end = ctx, func() { cancel(); running.Wait() }
		b, _, err := k.d.Rehearse("day")
		if err != nil {
			t.Fatal(err)
		}
		nonce, _, err := k.d.Arm("day", b.Hash, daemon.Statements{Litres: 26, BagClear: true, ValveShut: true, RCDTested: true})
		if err != nil {
			t.Fatal(err)
		}
		if r, err := k.d.Begin(ctx, nonce); err != nil || !r.Accepted {
			t.Fatal(r, err)
		}
		f(k)
		k.end()
	})
}

func (k *kettle) hear(m Message) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.said = append(k.said, m)
}

// heard are the messages so far: "prompt pour new".
func (k *kettle) heard() (all []string) {
	k.mu.Lock()
	defer k.mu.Unlock()
	for _, m := range k.said {
		all = append(all, m.Kind+" "+m.Field("id")+" "+m.State)
	}
	return all
}

func (k *kettle) until(what string, so func(*daemon.Snapshot) bool) {
	k.Helper()
	for range 24 * 3600 {
		if so(k.d.Latest()) {
			return
		}
		pass(time.Second)
	}
	k.Fatalf("never: %s", what)
}

// between is a time between two ticks, which are at whole seconds: what happens at
// the same instant as a tick may be before or behind it.
const between = 1500 * time.Millisecond

// answers does what is asked after so long, until the batch is over.
func (k *kettle) answers(after time.Duration) {
	k.Helper()
	pass(between)
	for {
		k.until("asked, or over", func(s *daemon.Snapshot) bool {
			return answerTo(s.Decision.Prompt) != controller.NoWish || s.Decision.Mode.Ended()
		})
		s := k.d.Latest()
		if s.Decision.Mode.Ended() {
			pass(2 * time.Second)
			return
		}
		pass(after)
		k.do(answerTo(s.Decision.Prompt))
		pass(between)
	}
}

func (k *kettle) do(w controller.Wish) {
	k.Helper()
	if r, err := k.d.Do(k.ctx, controller.Command{Wish: w}); err != nil || !r.Accepted {
		k.Fatal(w, r, err)
	}
}

func answerTo(p controller.Prompt) controller.Wish {
	return map[controller.Prompt]controller.Wish{
		controller.AskPour: controller.PouringNow, controller.AskGrainIn: controller.GrainIn, controller.AskLift: controller.LiftingNow,
		controller.AskBagClear: controller.BagClear, controller.AskDrained: controller.Drained, controller.AskHereLidOff: controller.HereLidOff,
		controller.AskChiller: controller.ChillerIn, controller.AskChillerWater: controller.ChillerIn, controller.AskColdest: controller.ChillDone,
	}[p]
}

// A day is told in its order, each thing once where somebody is there.
func TestADayIsToldInItsOrder(t *testing.T) {
	brewing(t, "", &marks{}, func(k *kettle) {
		k.answers(time.Minute)
		got := strings.Join(k.heard(), "\n")
		for _, want := range []string{
			"prompt pour new", "prompt grain-in new", "prompt lift new", "prompt bag-clear new", "prompt drained new", "prompt here-lid-off new",
			"addition addition-1 new", "prompt scald-chiller new", "finish finish new", "ended complete new",
		} {
			if strings.Count(got, want) != 1 {
				k.Errorf("%q is told %d times", want, strings.Count(got, want))
			}
		}
		if strings.Index(got, "prompt lift") > strings.Index(got, "prompt drained") || !strings.HasSuffix(got, "ended complete new") {
			k.Errorf("not in the order of the day:\n%s", got)
		}
		if !strings.Contains(got, "soon lift new") {
			k.Errorf("nobody is told beforehand of the lift:\n%s", got)
		}
		for _, m := range k.said {
			if !strings.Contains(m.Field("text"), "A short day") || !strings.HasPrefix(m.Field("title"), "SIMULATED: Test kettle: ") {
				k.Errorf("%s\n%s", m.Field("title"), m.Field("text"))
			}
		}
	})
}

// A probe that is lost is told as it comes: the cut, the alarm, the trip that it
// becomes, in place of the cut; said again until somebody has seen it.
func TestALostProbeIsToldAndSaidAgainUntilSeen(t *testing.T) {
	brewing(t, "", &marks{}, func(k *kettle) {
		pass(2 * time.Minute)
		k.pan.blind.Store(true)
		pass(3 * time.Minute)
		got := strings.Join(k.heard(), "\n")
		if strings.Count(got, "cut stale new") != 1 || strings.Count(got, "trip stale new") != 1 || strings.Contains(got, "held") || strings.Contains(got, "look-at-fault") {
			k.Errorf("told\n%s", got)
		}
		pass(15 * time.Minute)
		if got := strings.Join(k.heard(), "\n"); strings.Count(got, "trip stale again") != 3 {
			k.Errorf("told\n%s", got)
		}
		k.n.Seen()
		before := len(k.heard())
		pass(25 * time.Minute)
		if got := k.heard(); len(got) != before {
			k.Errorf("said again although it was seen: %q", got[before:])
		}
		k.pan.blind.Store(false)
		pass(time.Minute)
		k.do(controller.ClearTrip)
		pass(10 * time.Second)
		if got := k.heard()[before:]; len(got) == 0 || !strings.Contains(strings.Join(got, "\n"), "held held new") {
			k.Errorf("what is held once the trip is cleared is not told: %q", got)
		}
	})
}

// A question that was answered while the target was away is not asked afterwards.
func TestAnAnsweredQuestionIsNotAskedLater(t *testing.T) {
	brewing(t, "notify: [{target: phone, url: http://phone.example/, tell: [prompt, ended, held]}]", &marks{}, func(k *kettle) {
		g, away := &got{began: time.Now()}, atomic.Bool{}
		away.Store(true)
		k.air.server(k.T, "phone.example", func(w http.ResponseWriter, r *http.Request) {
			if away.Load() {
				w.WriteHeader(503)
				return
			}
			g.take(w, r, 200)
		})
		k.until("the pour", func(s *daemon.Snapshot) bool { return s.Decision.Prompt == controller.AskPour })
		pass(20*time.Second + between)
		k.do(controller.PouringNow)
		pass(3 * time.Second)
		away.Store(false)
		pass(time.Minute)
		if texts := g.texts(); len(texts) != 1 || !strings.Contains(texts[0], "Stir the grain in") {
			k.Errorf("told %q", texts)
		}
		if c := k.n.counted(k.T, "phone"); c["overtaken"] != 1 {
			k.Error(c)
		}
		k.end() // with a batch under way: the last message
		if texts := g.texts(); len(texts) != 2 || !strings.Contains(texts[1], "mashward is being ended while a batch is under way") {
			k.Errorf("told %q", texts)
		}
	})
}

func TestSTOPIsToldOnceAndNotRepeated(t *testing.T) {
	brewing(t, "", &marks{}, func(k *kettle) {
		pass(time.Minute)
		if _, err := k.d.Stop(k.ctx); err != nil {
			k.Fatal(err)
		}
		pass(25 * time.Minute)
		if got := strings.Join(k.heard(), "\n"); got != "held held new" {
			k.Errorf("told\n%s", got)
		}
	})
}

func TestALoopThatStandsStillIsTold(t *testing.T) {
	brewing(t, "", &marks{}, func(k *kettle) {
		pass(time.Minute)
		release := k.pan.hold()
		pass(15 * time.Second)
		if got := strings.Join(k.heard(), "\n"); got != "alarm no-news new" {
			k.Errorf("told\n%s", got)
		}
		release()
		pass(5 * time.Second)
		if got := strings.Join(k.heard(), "\n"); !strings.Contains(got, "alarm no-news over") {
			k.Errorf("told\n%s", got)
		}
	})
}

// hostile are targets that would hold up or flood whoever trusted them.
const hostile = `notify:
  - {target: silent, url: http://silent.example/, timeout: 1 min}
  - {target: broken, url: http://broken.example/}
  - {target: endless, url: http://endless.example/}
  - {target: nobody, url: http://nobody.example/}
`

// The same day, with and without targets that misbehave: every tick does the same at
// the same instant, and what runs beside the loop stays bounded.
func TestTheLoopDoesNotFeelItsTargets(t *testing.T) {
	var alone, told marks
	most := 0
	day := func(k *kettle) {
		before := runtime.NumGoroutine()
		done := make(chan struct{})
		go func() {
			defer close(done)
			k.answers(150 * time.Second)
		}()
		for {
			select {
			case <-done:
				return
			case <-time.After(time.Minute):
				most = max(most, runtime.NumGoroutine()-before)
			}
		}
	}
	brewing(t, "", &alone, day)
	brewing(t, hostile, &told, func(k *kettle) {
		k.air.misbehaved(k.T)
		day(k)
		synctest.Wait()
		if c := k.n.counted(k.T, "endless"); c["sent"] < 8 {
			k.Errorf("the targets were hardly told: %v", c)
		}
	})
	if len(alone.all) < 3600 || len(alone.all) != len(told.all) {
		t.Fatalf("%d ticks alone, %d with targets", len(alone.all), len(told.all))
	}
	for i, want := range alone.all {
		got := told.all[i]
		if got != want {
			t.Fatalf("tick %d differs:\nalone %+v\ntold  %+v", i, want, got)
		}
	}
	t.Logf("%d goroutines beside at most, both ends of each connection included", most)
	if most > mostGoroutines {
		t.Errorf("%d goroutines", most)
	}
}
