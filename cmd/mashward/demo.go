package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"
	"time"

	"mashward/cmd/internal/ahead"
	"mashward/cmd/internal/config"
	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/notify"
	"mashward/cmd/mashward/internal/view"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/profile/strict"
	"mashward/sim"
	"mashward/testdata"
)

// A prompt slows the demonstration down, so that it can be read: for so long
// on the simulated clock, at so many times real time.
const (
	promptDelay = 20 * time.Second
	promptSpeed = 20
)

// runDemo is `mashward demo`.
func runDemo(c *call) error {
	o := newOptions("demo", "[--speed N]",
		"Carries the sample brew on a simulated kettle, at high speed, to its end, and\n"+
			"serves its page meanwhile. Nothing is heated; every line says so.", c.out)
	speed := o.Float64("speed", 1200, "times real time, a `number`; 0: as fast as it goes")
	if done, err := o.parse(c.args); done || err != nil {
		return err
	}
	if len(o.words) > 0 {
		return usage("demo: it takes no file; `mashward dryrun` rehearses yours")
	}
	if !(*speed >= 0) {
		return usage("demo: --speed %g: write a number, 0 for as fast as it goes", *speed)
	}
	d, params, err := sampleDay()
	if err != nil {
		return err
	}
	folder, err := os.MkdirTemp("", "mashward-demo-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(folder)
	show := newShow(c, d, *speed)
	result, err := demonstrate(show, d, params, folder)
	if err != nil {
		return err
	}
	show.clear()
	if err := rehearse.Text(show.lines, d.plan, result); err != nil {
		return err
	}
	if err := show.lines.flush(); err != nil {
		return err
	}
	if result.Outcome != "complete" {
		return &exit{code: exitShort}
	}
	return nil
}

// sampleID is the sample profile's name in the demonstration's folder.
const sampleID = "rye-four-rests"

// demonstrate runs the sample through the daemon, as a browser would have it
// run, with a simulated person at the prompts.
func demonstrate(show *show, d day, params sim.Params, folder string) (rehearse.Result, error) {
	if err := unpack(folder); err != nil {
		return rehearse.Result{}, err
	}
	kettle := daemon.NewSimulated(d.rig, params, 0)
	show.pace = kettle.SetSpeed
	person := &rehearse.Person{Delay: promptDelay, Do: func(sim.Kind) {}, Level: func() unit.Litres { return 0 }}
	witness := rehearse.NewWitness(d.profile, d.plan, kettle)
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	show.done = stop
	site := newSite(daemon.Options{
		RigPath: filepath.Join(folder, "rig.yaml"), Rig: d.rig, RigText: sampleFile("rigs"),
		Profiles: folder, Plant: params, Simulated: true, Program: version(), Kettle: kettle, Now: time.Now,
		Log: slog.New(slog.DiscardHandler), Person: person, Watchers: []loop.Watcher{witness, show, person},
	}, notify.Options{})
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return rehearse.Result{}, err
	}
	fmt.Fprintf(show.lines, "0:00  The page of this brew: http://%s (until it is finished)\n", listener.Addr())
	failed := make(chan error, 1)
	go func() { failed <- site.serve(ctx, listener) }()
	if err := start(ctx, site.daemon, float64(d.profile.Water)); err != nil {
		stop()
		return rehearse.Result{}, errors.Join(err, <-failed)
	}
	if err := <-failed; err != nil {
		return rehearse.Result{}, err
	}
	return witness.Result(), nil
}

// start does what a person does on the page: rehearse, arm, begin.
func start(ctx context.Context, d *daemon.Daemon, litres float64) error {
	b, _, err := d.Rehearse(sampleID)
	if err != nil {
		return err
	}
	nonce, _, err := d.Arm(sampleID, b.Hash, daemon.Statements{Litres: litres, BagClear: true, ValveShut: true, RCDTested: true})
	if err != nil {
		return err
	}
	reply, err := d.Begin(ctx, nonce)
	if err == nil && !reply.Accepted {
		err = &exit{exitBug, "demo: " + reply.Why.String()}
	}
	return err
}

// unpack writes the sample files where the daemon looks for files.
func unpack(folder string) error {
	return errors.Join(
		os.WriteFile(filepath.Join(folder, sampleID+".yaml"), sampleFile("profiles"), 0o644),
		os.WriteFile(filepath.Join(folder, "rig.yaml"), sampleFile("rigs"), 0o644))
}

// sampleFile is a sample from inside the program; nil, which parses as a fault,
// if it were missing.
func sampleFile(kind string) []byte {
	name := map[string]string{"profiles": "profiles/rye-four-rests.yaml", "rigs": "rigs/yard-kettle.yaml", "plants": "plants/yard-kettle-as-built.yaml"}[kind]
	text, err := testdata.Samples.ReadFile(name)
	if err != nil {
		return nil
	}
	return text
}

// sampleDay is the sample brew from inside the program.
func sampleDay() (day, sim.Params, error) {
	p, bad := profile.Parse("sample profile", sampleFile("profiles"))
	rig, more := config.ParseRig("sample rig", sampleFile("rigs"))
	bad = append(bad, more...)
	params, more := sim.ParsePlant("sample plant", sampleFile("plants"), rig.Plant())
	bad = append(bad, more...)
	if strict.Refused(bad) {
		return day{}, sim.Params{}, &exit{exitBug, fmt.Sprint(bad)}
	}
	d, _ := plan.Make(p, rig.PlanKettle())
	return day{p, rig, d}, params, nil
}

// show is the demonstration on a terminal: one line that moves, and events as
// they come. Without a terminal only the events.
type show struct {
	lines  *marked
	say    say.Day
	day    ahead.Day
	colour bool
	speed  float64
	pace   func(speed float64)
	done   func() // the day is over
	slow   bool
	wide   int
}

func newShow(c *call, d day, speed float64) *show {
	return &show{
		lines: &marked{out: bufio.NewWriter(c.out)}, colour: c.colour, speed: speed,
		say: say.Day{Profile: d.profile, Config: rehearse.Core(d.profile, d.plan)},
		day: ahead.Day{Config: rehearse.Core(d.profile, d.plan), Plan: d.plan}, // its person pours at once
	}
}

// keepPace slows down while somebody reads a prompt. Before the start nothing
// needs time.
func (s *show) keepPace(d *controller.Decision) {
	slow := d.Prompt != controller.NoPrompt && s.speed > promptSpeed
	switch {
	case d.Mode == controller.Idle:
	case slow && !s.slow:
		s.pace(promptSpeed)
	case !slow && (s.slow || d.Clock == 0):
		s.pace(s.speed)
	}
	s.slow = slow
}

// Watch shows one frame.
func (s *show) Watch(f *loop.Frame) {
	d := &f.Decision
	s.keepPace(d)
	if d.Mode.Ended() {
		defer s.done()
	}
	for _, e := range d.Events[:d.Count] {
		if text := s.say.Sentence(e, f.Tick.Command); text != "" {
			s.clear()
			fmt.Fprintf(s.lines, "%s  %s\n", say.Clock(d.Clock), text)
		}
		if e.Kind == controller.StepStarted {
			s.forecast(f)
		}
	}
	if s.colour && d.Mode != controller.Idle && int(d.Clock/time.Second)%20 == 0 {
		s.move(d, s.finish(f))
	}
	s.lines.flush() // a terminal that is gone ends the demonstration at its end
}

// forecast says how the day goes on, as each step begins.
func (s *show) forecast(f *loop.Frame) {
	if finish := s.finish(f); finish != "" {
		fmt.Fprintf(s.lines, "%s  As forecast now: %s.\n", say.Clock(f.Decision.Clock), finish)
	}
}

// finish is when it is all over, as forecast in this tick; "" where nothing can be said.
func (s *show) finish(f *loop.Frame) string {
	fc, ok := s.day.From(f.State)
	if !ok {
		return ""
	}
	return view.Finish(fc.Finish, say.Clock)
}

// move writes over the one moving line.
func (s *show) move(d *controller.Decision, finish string) {
	heat := "          "
	if d.Wanted == unit.On {
		heat = "heating   "
	}
	text := fmt.Sprintf("simulated  %s  %5.1f °C  %s %s %s", say.Clock(d.Clock), d.Filtered, heat, d.Kind, d.Phase)
	if d.Left > 0 && d.Reached {
		text += ", " + say.Length(d.Left) + " left"
	}
	if finish != "" {
		text += "; " + finish
	}
	pad := max(0, s.wide-len([]rune(text)))
	s.wide = len([]rune(text))
	fmt.Fprintf(s.lines.out, "\r%s%s", text, strings.Repeat(" ", pad))
}

// clear takes the moving line away.
func (s *show) clear() {
	if s.colour && s.wide > 0 {
		fmt.Fprintf(s.lines.out, "\r%s\r", strings.Repeat(" ", s.wide))
		s.wide = 0
	}
}

// marked writes "simulated" before every line, so that no part of the output
// can be taken for a real batch.
type marked struct {
	out    *bufio.Writer
	inLine bool
}

// Write implements io.Writer.
func (m *marked) Write(b []byte) (int, error) {
	for _, line := range strings.SplitAfter(string(b), "\n") {
		if line == "" {
			continue
		}
		if !m.inLine {
			m.out.WriteString("simulated  ")
		}
		m.inLine = !strings.HasSuffix(line, "\n")
		if _, err := m.out.WriteString(line); err != nil {
			return 0, err
		}
	}
	return len(b), nil
}

func (m *marked) flush() error { return m.out.Flush() }

var _ io.Writer = (*marked)(nil)
