package main

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/wall"
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
		"Carries the sample brew on a simulated kettle, at high speed, to its end.\nNothing is heated; every line says so.", c.out)
	speed := o.Float64("speed", 1200, "times real time; 0: as fast as it goes")
	if done, err := o.parse(c.args); done || err != nil {
		return err
	}
	if len(o.words) > 0 {
		return usage("demo: it takes no file; `mashward dryrun` rehearses yours")
	}
	d, params, err := sampleDay()
	if err != nil {
		return err
	}
	show := newShow(c, d, *speed)
	run := rehearse.Run{Profile: d.profile, Plan: d.plan, Delay: promptDelay,
		Kettle: &paced{Kettle: simulated(d.profile, params, nil, 1), show: show}, Watchers: []loop.Watcher{show}}
	result, err := run.Go()
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

// sampleDay is the sample brew from inside the program.
func sampleDay() (day, sim.Params, error) {
	files := map[string][]byte{}
	for _, name := range []string{"profiles/rye-four-rests.yaml", "rigs/yard-kettle.yaml", "plants/yard-kettle-as-built.yaml"} {
		text, err := testdata.Samples.ReadFile(name)
		if err != nil {
			return day{}, sim.Params{}, &exit{exitBug, err.Error()}
		}
		files[name[:strings.IndexByte(name, '/')]] = text
	}
	p, bad := profile.Parse("sample profile", files["profiles"])
	rig, more := config.ParseRig("sample rig", files["rigs"])
	bad = append(bad, more...)
	params, more := sim.ParsePlant("sample plant", files["plants"], rig.Plant())
	bad = append(bad, more...)
	if strict.Refused(bad) {
		return day{}, sim.Params{}, &exit{exitBug, fmt.Sprint(bad)}
	}
	d, _ := plan.Make(p, rig.PlanKettle())
	return day{p, rig, d}, params, nil
}

// paced lets each tick of a kettle take its time.
type paced struct {
	rehearse.Kettle
	pace wall.Pace
	show *show
}

// Next waits, then lets the tick pass.
func (p *paced) Next() (time.Duration, bool) {
	p.pace.Wait(p.show.speedNow())
	return p.Kettle.Next()
}

// show is the demonstration on a terminal: one line that moves, and events as
// they come. Without a terminal only the events.
type show struct {
	lines  *marked
	say    say.Day
	colour bool
	speed  float64
	prompt controller.Prompt
	wide   int
}

func newShow(c *call, d day, speed float64) *show {
	return &show{lines: &marked{out: bufio.NewWriter(c.out)}, colour: c.colour, speed: speed,
		say: say.Day{Profile: d.profile, Config: rehearse.Core(d.profile, d.plan)}}
}

// speedNow is slower while somebody reads a prompt.
func (s *show) speedNow() float64 {
	if s.prompt != controller.NoPrompt && s.speed > promptSpeed {
		return promptSpeed
	}
	return s.speed
}

// Watch shows one frame.
func (s *show) Watch(f *loop.Frame) {
	d := &f.Decision
	s.prompt = d.Prompt
	for _, e := range d.Events[:d.Count] {
		if text := s.say.Event(e); text != "" {
			s.clear()
			fmt.Fprintf(s.lines, "%s  %s\n", say.Clock(d.Clock), text)
		}
	}
	if s.colour && int(d.Clock/time.Second)%20 == 0 {
		s.move(d)
	}
	s.lines.flush() // a terminal that is gone ends the demonstration at its end
}

// move writes over the one moving line.
func (s *show) move(d *controller.Decision) {
	heat := "          "
	if d.Wanted == unit.On {
		heat = "heating   "
	}
	text := fmt.Sprintf("simulated  %s  %5.1f °C  %s %s %s", say.Clock(d.Clock), d.Filtered, heat, d.Kind, d.Phase)
	if d.Left > 0 && d.Reached {
		text += ", " + say.Length(d.Left) + " left"
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
