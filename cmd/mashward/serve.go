package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/signal"
	"path/filepath"
	"sync"
	"syscall"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/metricset"
	"mashward/cmd/mashward/internal/api"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/hardware"
	"mashward/cmd/mashward/internal/metrics"
	"mashward/cmd/mashward/internal/notify"
	"mashward/cmd/mashward/internal/page"
	"mashward/cmd/mashward/internal/systemd"
	"mashward/cmd/mashward/internal/wall"
	"mashward/cmd/mashward/internal/web"
	"mashward/controller/loop"
	"mashward/controller/record"
)

// serve is one call of `mashward serve`.
type serve struct {
	rig, profiles, state, listen, plant, root string
	notify                                    string
	simulate                                  bool
	speed                                     float64
	watchers                                  []loop.Watcher                            // further ones; tests have some
	storage                                   func(path string) (record.Storage, error) // nil: files; tests have one that hangs
}

// In the folder of the state, beside what element-off and the count of starts
// need.
const (
	recordsFolder = "records"
	latchedFile   = "latched"
	waitsFile     = "waits"
)

// runServe is `mashward serve`.
func runServe(c *call) error {
	var s serve
	o := newOptions("serve", "--rig FILE [options]",
		"Runs the loop as a daemon and serves its page. It starts not heating; a batch that\n"+
			"was cut off, by its record in --state, is offered. Only this machine is served.\n"+
			"Without --simulate it drives the real element of the rig: read SAFETY.md before\n"+
			"you wire one.", c.out)
	o.StringVar(&s.rig, "rig", "", "the kettle's `file`")
	o.StringVar(&s.profiles, "profiles", ".", "`folder` with profiles")
	o.StringVar(&s.state, "state", "", "`folder` for records, and for the lines that element-off switches; none are kept without it")
	o.StringVar(&s.listen, "listen", "127.0.0.1:8973", "`address` to listen on, of this machine")
	o.StringVar(&s.notify, "notify", "", "`file` that says who is told of prompts, alarms and the end")
	o.StringVar(&s.root, "root", "/", "`folder` where the kernel's files of probe and relay begin, for tries without hardware")
	o.BoolVar(&s.simulate, "simulate", false, "run on a simulated kettle")
	o.StringVar(&s.plant, "plant", "", "`file` with the true physics of the simulated kettle")
	o.Float64Var(&s.speed, "speed", 1, "times real time, on the simulator; a `number`, 0: as fast as it goes")
	if done, err := o.parse(c.args); done || err != nil {
		return err
	}
	if len(o.words) > 0 {
		return usage("serve: what is %s? Name files with --rig and --profiles", o.words[0])
	}
	if s.rig == "" {
		return usage("serve: which rig? Add --rig FILE")
	}
	if !s.simulate && (s.plant != "" || s.speed != 1) {
		return usage("serve: --plant and --speed are for the simulator: add --simulate, or leave them out")
	}
	if !(s.speed >= 0) {
		return usage("serve: --speed %g: write a number, 0 for as fast as it goes", s.speed)
	}
	if s.simulate && s.root != "/" {
		return usage("serve: --root is for real drivers: leave it out, or leave out --simulate")
	}
	if err := web.Loopback(s.listen); err != nil {
		return usage("serve: %v", err)
	}
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM, syscall.SIGINT)
	defer stop()
	return s.run(ctx, c)
}

func (s *serve) run(ctx context.Context, c *call) error {
	log := slog.New(slog.NewTextHandler(c.err, nil))
	listener, err := net.Listen("tcp", s.listen)
	if err != nil {
		return &exit{config.ExitIO, fmt.Sprintf("cannot listen: %v; choose another address with --listen", err)}
	}
	defer listener.Close()
	notifier, err := systemd.New(os.Getenv("NOTIFY_SOCKET"))
	if err != nil {
		return err
	}
	unlock, err := s.folder()
	if err != nil {
		return err
	}
	defer unlock()
	o, err := s.options(log)
	if err != nil {
		return err
	}
	real, err := s.real(&o, log, c.err)
	if err != nil {
		return err
	}
	o.Watchers = append(append(o.Watchers, notifier), s.watchers...)
	site := newSite(o, s.telling(c, log))
	log.Info("serving", "address", "http://"+listener.Addr().String(), "simulated", o.Simulated, "heat", o.Kettle != nil)
	if o.Kettle == nil {
		notifier.Idle()
	}
	go c.console(listener.Addr().String())
	defer context.AfterFunc(ctx, notifier.Stopping)()
	if s.state != "" {
		defer wall.After(longEnough, func() { s.endRow(log) })()
	}
	err = site.serve(ctx, listener)
	if s.state != "" && ctx.Err() != nil {
		s.endRow(log)
	}
	if real == nil {
		return err
	}
	return errors.Join(err, real.Close()) // the daemon has closed it; this tells how that went
}

// folder makes the folder of the state ours, before anything in it is looked at.
func (s *serve) folder() (unlock func(), err error) {
	if s.state == "" {
		return func() {}, nil
	}
	if err := record.Folder(filepath.Join(s.state, recordsFolder)); err != nil {
		return nil, err
	}
	return lockState(s.state)
}

// endRow ends the row of restarts; where that fails, the next start counts on.
func (s *serve) endRow(log *slog.Logger) {
	if err := endRow(s.state); err != nil {
		log.Error("the count of restarts stays", "error", err)
	}
}

// real takes the lines and the probe of a rig that is not simulated. Once they
// are ours, and before anything can heat, their names are left for element-off.
func (s *serve) real(o *daemon.Options, log *slog.Logger, complaints io.Writer) (*hardware.Kettle, error) {
	if s.simulate || o.RigFaults != nil || o.Disabled != "" {
		return nil, nil
	}
	root, err := filepath.Abs(s.root) // element-off may run in another folder
	if err != nil {
		return nil, err
	}
	k, err := hardware.Open(o.Rig, root, keepWord, log, complaints)
	if err != nil {
		return nil, device(err)
	}
	if s.state != "" {
		if err := writeLines(s.state, hardware.Lines(o.Rig, root)); err != nil {
			return nil, errors.Join(err, k.Close())
		}
	}
	o.Kettle = k
	return k, nil
}

// options reads what the daemon needs. A broken rig is no end: the page comes
// up with heat disabled and says what is wrong.
func (s *serve) options(log *slog.Logger) (daemon.Options, error) {
	o := daemon.Options{RigPath: s.rig, Profiles: s.profiles, Simulated: s.simulate, Program: version(), Now: time.Now, Boot: wall.ThisBoot, Log: log, Storage: s.storage}
	rig, _, err := config.LoadRig(s.rig)
	var bad *config.Failure
	switch {
	case errors.As(err, &bad) && bad.Code == config.ExitBadRig:
		o.RigFaults = bad.Faults
		for _, f := range bad.Faults {
			log.Error("rig file: heat is disabled", "fault", f.String())
		}
		return o, nil
	case err != nil:
		return o, err
	}
	if o.RigText, err = os.ReadFile(s.rig); err != nil {
		return o, err
	}
	o.Rig, o.Plant = rig, rig.Plant()
	if s.plant != "" {
		if o.Plant, _, err = config.LoadPlant(s.plant, o.Plant); err != nil {
			return o, err
		}
	}
	if s.state != "" {
		o.Records, o.Latched = filepath.Join(s.state, recordsFolder), filepath.Join(s.state, latchedFile)
		o.Waits = filepath.Join(s.state, waitsFile)
		if o.Restarts, err = countStart(s.state); err != nil {
			return o, err
		}
		if o.Restarts > daemon.MostRestarts {
			log.Error(inALoop)
			o.Disabled = inALoop
			return o, nil
		}
	}
	if s.simulate {
		o.Kettle = daemon.NewSimulated(rig, o.Plant, s.speed)
	}
	return o, nil
}

// site is a daemon with everything that shows it.
type site struct {
	daemon   *daemon.Daemon
	notifier *notify.Notifier
	handler  http.Handler
}

// newSite puts notifications, interface, metrics and page around a daemon.
func newSite(o daemon.Options, telling notify.Options) *site {
	tracker := metricset.NewTracker(o.Rig.PlanKettle().Power)
	o.Watchers = append(o.Watchers, tracker)
	o.Began = func(b *daemon.Batch) { tracker.Follow(metricset.BatchOf(b.ID, b.Plan)) }
	d := daemon.New(o)
	tracker.Guard = d.Guard()
	telling.Latest, telling.Now, telling.Log = d.Latest, o.Now, o.Log
	n := notify.New(telling)
	a := api.New(api.Options{Daemon: d, Records: o.Records, Now: o.Now, Log: o.Log, Notify: n})
	mux := http.NewServeMux()
	mux.Handle("/api/", a)
	mux.Handle("GET /metrics", metrics.New(current{tracker, d, o.Now}, shell{a, d, n}, aboutServing(&o)))
	mux.HandleFunc("GET /-/healthy", func(w http.ResponseWriter, _ *http.Request) { fmt.Fprintln(w, "alive") })
	mux.HandleFunc("GET /-/ready", func(w http.ResponseWriter, _ *http.Request) { ready(w, d, o.Now()) })
	mux.Handle("/", page.New(page.Options{Daemon: d, Records: o.Records, Now: o.Now, Log: o.Log, Notify: n}))
	return &site{daemon: d, notifier: n, handler: mux}
}

// aboutServing is what the metrics say of a process that serves.
func aboutServing(o *daemon.Options) metricset.About {
	program, _ := built()
	return metricset.About{
		Build: program, Rig: labelOf(o.Rig), Simulated: o.Simulated,
	}
}

// labelOf is how figures tell the rig apart from others.
func labelOf(rig config.Rig) metricset.Rig {
	return metricset.Rig{Name: rig.Name, Relay: rig.Element.Relay.Type.String()}
}

// shell is what the metrics ask of the process.
type shell struct {
	api    *api.API
	daemon *daemon.Daemon
	notify *notify.Notifier
}

// Notifications are the messages to each target.
func (s shell) Notifications(emit func(target, result string, count uint64)) {
	s.notify.Counts(func(target string, r notify.Result, count uint64) { emit(target, r.String(), count) })
}

// Clients are the open streams.
func (s shell) Clients() int { return s.api.Clients() }

// Late is how late the ticks began.
func (s shell) Late() *wall.Lateness { return s.daemon.Late() }

// Overruns are the ticks skipped.
func (s shell) Overruns() uint64 { return s.daemon.Overruns() }

// FinishForecast is when the batch is thought to be done.
func (s shell) FinishForecast() (early, at, late time.Time, ok bool) {
	return s.daemon.FinishForecast()
}

// ForecastOff is how far the last one lay from what was forecast.
func (s shell) ForecastOff() (time.Duration, bool) { return s.daemon.ForecastOff() }

// Stored tells whether what happens is on storage.
func (s shell) Stored() bool { return s.daemon.Latest().Unstored == nil }

// Answers tells whether the lines of all relays do.
func (s shell) Answers() bool {
	last := s.daemon.Latest()
	return last.LineFault == nil && !last.GaveUp
}

// fresh is the age at which the newest frame is not the present any more.
const fresh = 5 * time.Second

// current is the tracker's newest sample as long as the loop ticks: the gauges
// of a loop that stands still would show a kettle that was.
type current struct {
	tracker *metricset.Tracker
	daemon  *daemon.Daemon
	now     func() time.Time
}

// Latest implements metrics.Source.
func (c current) Latest() (metricset.Sample, bool) {
	s, ok := c.tracker.Latest()
	return s, ok && c.now().Sub(c.daemon.Latest().Wall) <= fresh
}

// ready tells whether the loop ticks, the relays answer and the probe gives
// readings.
func ready(w http.ResponseWriter, d *daemon.Daemon, now time.Time) {
	last := d.Latest()
	switch {
	case last.HeatDisabled:
		http.Error(w, "not ready: the rig file has faults", http.StatusServiceUnavailable)
	case last.Number == 0 || now.Sub(last.Wall) > fresh:
		http.Error(w, "not ready: the loop does not tick", http.StatusServiceUnavailable)
	case last.LineFault != nil:
		http.Error(w, "not ready: a relay does not answer", http.StatusServiceUnavailable)
	case last.GaveUp:
		http.Error(w, "not ready: a relay has been given up, until a person has looked", http.StatusServiceUnavailable)
	case !last.Decision.HasEstimate:
		http.Error(w, "not ready: the probe gives no good reading", http.StatusServiceUnavailable)
	default:
		fmt.Fprintln(w, "ready")
	}
}

// serve answers until ctx is done. Then heat goes off first; clients are waited
// for after that, and not for long.
func (s *site) serve(ctx context.Context, listener net.Listener) error {
	server := web.Server(s.handler)
	failed := make(chan error, 1)
	go func() { failed <- server.Serve(web.Limit(listener, web.Room())) }()
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var running sync.WaitGroup
	running.Add(3)
	go func() { defer running.Done(); s.daemon.Run(ctx) }()
	go func() { defer running.Done(); s.daemon.WatchFiles(ctx) }()
	go func() { defer running.Done(); s.notifier.Run(ctx) }()
	var err error
	select {
	case <-ctx.Done():
	case err = <-failed:
		cancel()
	}
	running.Wait()
	short, done := context.WithTimeout(context.Background(), time.Second)
	defer done()
	if server.Shutdown(short) != nil {
		server.Close() // streams that do not end by themselves
	}
	return err
}
