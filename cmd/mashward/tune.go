package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/say"
	"mashward/cmd/internal/suggest"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
	"mashward/controller/pid"
	"mashward/controller/tune"
	"mashward/controller/unit"
	"mashward/sim"
)

// tuneCall is one call of `mashward tune`.
type tuneCall struct {
	rig, plant, water, format, out, from, state, root string
	seed                                              uint64
	restore, simulate                                 bool
	stated                                            unit.Litres // --water; 0: not given

	open func(config.Rig, io.Writer) (realKettle, error) // takes the lines of a real rig; tests have their own
	now  func() time.Time                                // the time of day, for the record's name
}

// runTune is `mashward tune`.
func runTune(c *call) error {
	t := tuneCall{now: time.Now}
	t.open = t.openReal
	o := newOptions("tune", "--rig FILE --out FILE (--state DIR | --simulate) [options]",
		"Finds out about a kettle by a test with water: full power for 8 °C, then a quarter\n"+
			"of an hour of quiet, pump on, lid on, nobody near it. It heats the REAL element of\n"+
			"the rig, after a person at this terminal has said what arming asks; with --simulate\n"+
			"or --plant, a simulated one. A bad test stores nothing; the file that was there is\n"+
			"kept as FILE.before.", c.out)
	o.StringVar(&t.rig, "rig", "", "the kettle's `file`")
	o.StringVar(&t.plant, "plant", "", "`file` with the true physics of the simulated rig, or unix:PATH; else it is as the rig declares")
	o.BoolVar(&t.simulate, "simulate", false, "run on a simulated kettle")
	o.StringVar(&t.state, "state", "", "`folder` that serve keeps its state in, for what is latched, the lines and the record; a real test needs one")
	o.StringVar(&t.root, "root", "/", "`folder` where the kernel's files of probe and relay begin, for tries without hardware")
	o.StringVar(&t.water, "water", "", "`volume` of water in the test, such as '25 L'; else half of a simulated kettle, or what you read from a real one")
	o.StringVar(&t.out, "out", "", "tuning `file` to write")
	o.StringVar(&t.from, "from", "", "`record` of a batch or a test to fit instead of a test")
	o.BoolVar(&t.restore, "restore", false, "bring back the tuning that --out replaced last")
	o.StringVar(&t.format, "format", "text", "text or json")
	o.Uint64Var(&t.seed, "seed", 1, "`number` that fixes everything left to chance")
	if done, err := o.parse(c.args); done || err != nil {
		return err
	}
	if len(o.words) > 0 {
		return usage("tune: what is %s? Name files with --rig and --out", o.words[0])
	}
	if t.out == "" {
		return usage("tune: where to? Add --out FILE")
	}
	if err := isFormat(t.format); err != nil {
		return err
	}
	if t.restore {
		return t.bringBack(c.out)
	}
	if t.rig == "" {
		return usage("tune: which rig? Add --rig FILE")
	}
	seeded := false
	o.Visit(func(f *flag.Flag) { seeded = seeded || f.Name == "seed" })
	if err := t.consistent(seeded); err != nil {
		return err
	}
	return t.run(c)
}

// consistent refuses options that belong to another kind of kettle.
func (t *tuneCall) consistent(seeded bool) error {
	switch {
	case t.real() && t.state == "":
		return usage("tune: this heats the real element of the rig, and needs the folder that serve is given: add --state DIR, or --simulate for a simulated kettle")
	case t.real() && seeded:
		return usage("tune: --seed is for the simulator: add --simulate, or leave it out")
	case !t.real() && (t.state != "" || t.root != "/"):
		return usage("tune: --state and --root are for a real element: leave them out, or leave out --simulate, --plant and --from")
	}
	return nil
}

// bringBack swaps the tuning with the one before it.
func (t *tuneCall) bringBack(out io.Writer) error {
	if err := daemon.SwapTuning(t.out); err != nil {
		return err
	}
	_, err := fmt.Fprintf(out, "%s is again as it was before the last test.\n", t.out)
	return err
}

// found is a fit with what is needed to store and tell it.
type found struct {
	rig      config.Rig
	water    unit.Litres
	result   tune.Result
	reason   string
	duration time.Duration
	tuning   config.Tuning
	foreseen unit.Kelvin
	rigText  string // as it was read
	record   string // where the test of a real kettle is recorded; "": it is not
}

func (t *tuneCall) run(c *call) error {
	rig, warnings, err := config.LoadRig(t.rig)
	if err != nil {
		return err
	}
	c.warn(warnings)
	rig.Found = nil // a test starts from what is declared
	f := found{rig: rig, water: rig.Kettle.Capacity / 2}
	if t.water != "" {
		if t.stated, err = unit.ParseLitres(t.water); err != nil {
			return usage("tune: --water: %v", err)
		}
		f.water = t.stated
	}
	if bad := waterFits(rig, f.water); bad != nil {
		return usage("tune: %v", bad)
	}
	switch {
	case t.from != "":
		err = f.fit(t.from)
	case t.real():
		if f.rigText, err = text(t.rig); err == nil {
			err = t.testReal(c, &f)
		}
	default:
		err = t.test(c, &f)
	}
	if err != nil {
		return err
	}
	return t.conclude(c, &f)
}

// text is a file's.
func text(path string) (string, error) {
	b, err := os.ReadFile(path)
	return string(b), err
}

// leastWater keeps the element covered, with a litre to spare.
func leastWater(rig config.Rig) unit.Litres { return rig.Kettle.ElementCoveredAt + 1 }

// waterFits tells why a test cannot be made with that much water.
func waterFits(rig config.Rig, water unit.Litres) error {
	if !(water >= leastWater(rig) && water <= rig.Kettle.Capacity) {
		return fmt.Errorf("%.1f L does not go: the element is covered from %.1f L, and the kettle holds %.1f L", water, rig.Kettle.ElementCoveredAt, rig.Kettle.Capacity)
	}
	return nil
}

// howEnded is the end of a test in a word or two.
func howEnded(out rehearse.Outcome) string {
	switch {
	case out.Broken, out.Cut != "":
		return "ended early"
	case out.Mode == controller.Complete:
		return "done"
	case out.Reason == controller.ByOperator:
		return "ended by you"
	}
	return "ended early"
}

// interruptible ends with Ctrl-C, an order to end, or the end of the terminal; a
// second Ctrl-C ends the program.
func interruptible() (ctx context.Context, stop func()) {
	ctx, end := signal.NotifyContext(context.Background(), syscall.SIGINT, syscall.SIGTERM, syscall.SIGHUP)
	keep := context.AfterFunc(ctx, end)
	return ctx, func() { keep(); end() }
}

// test runs the water test on a simulated kettle.
func (t *tuneCall) test(c *call, f *found) error {
	ctx, stop := interruptible()
	defer stop()
	kettle, err := t.kettle(c, f)
	if err != nil {
		return err
	}
	defer closeKettle(kettle)
	trial := rehearse.Trial{Rig: f.rig, Water: f.water, Kettle: kettle}
	var show *live
	if c.colour && t.format == "text" {
		show = newLive(c, f, trial.Known())
		trial.Watchers = append(trial.Watchers, show)
	}
	out, err := trial.Go(ctx)
	if show != nil {
		show.finish(howEnded(out))
	}
	if errors.Is(err, rehearse.ErrNoReading) {
		return &exit{exitDevice, "tune: " + err.Error()}
	}
	if err != nil {
		return err
	}
	f.judge(out)
	return nil
}

// judge takes over how a test went, and why nothing came of it.
func (f *found) judge(out rehearse.Outcome) {
	f.result, f.duration = out.Found, out.Duration
	switch {
	case out.Broken:
		f.result.Reason, f.reason = tune.TooShort, "seconds are missing: the computer was away for more than 3 s; run the whole test again"
	case out.Cut != "":
		f.result.Reason, f.reason = tune.TooShort, fmt.Sprintf("heat was cut again and again (%s): look at the probe, its plug and its cable, and run the whole test again", out.Cut)
	case out.Mode == controller.Stopped && out.Reason == controller.ByOperator:
		f.result.Reason, f.reason = tune.TooShort, "ended by you after "+say.Length(out.Duration)
	case out.Mode != controller.Complete:
		f.result.Reason = tune.TooLittle
		f.reason = fmt.Sprintf("the test ended early (%s): %s", out.Reason, tune.TooLittle)
		switch out.Reason {
		case controller.Restless:
			f.result.Reason, f.reason = tune.Restless, tune.Restless.String()
		case controller.HeatingWhileOff:
			f.reason = "the temperature rose although the element was off: isolate the kettle at the breaker now"
		}
	}
}

// kettle is what the test runs on.
func (t *tuneCall) kettle(c *call, f *found) (rehearse.Kettle, error) {
	if path, ok := strings.CutPrefix(t.plant, "unix:"); ok {
		return dial("tune", path, rehearse.Load{Water: f.water, GrainTemperature: f.rig.Site.Room}, f.rig.Element.Power)
	}
	params := f.rig.Plant()
	if t.plant != "" {
		p, warnings, err := config.LoadPlant(t.plant, params)
		if err != nil {
			return nil, err
		}
		c.warn(warnings)
		params = p
	}
	return &rehearse.Simulated{Bench: sim.NewBench(sim.New(params, sim.Load{Water: f.water}, t.seed), nil, t.seed)}, nil
}

// conclude foresees, stores and tells.
func (t *tuneCall) conclude(c *call, f *found) error {
	r := f.result
	if f.reason == "" {
		f.reason = r.Reason.String()
	}
	if r.Accepted() {
		f.tuning = config.TuningOf(f.rig.Name, f.water, r.Model, r.Noise, r.Residual, r.Doubt)
		foreseen, err := rehearse.Foreseen(f.rig, f.water, f.tuning)
		if err != nil {
			return err
		}
		f.foreseen = foreseen
		if err := t.put(f.tuning.Text()); err != nil {
			return err
		}
	}
	var err error
	if t.format == "json" {
		err = encode(c.out, f.json())
	} else {
		_, err = io.WriteString(c.out, f.text(t.out))
	}
	if err == nil && !r.Accepted() {
		err = &exit{code: exitShort}
	}
	return err
}

// put writes the file and keeps the one that was there.
func (t *tuneCall) put(text []byte) error { return daemon.PutTuning(t.out, text) }

// tuneJSON is the result for programs.
type tuneJSON struct {
	Accepted bool     `json:"accepted"`
	Reason   string   `json:"reason"`
	Power    *float64 `json:"power_watts"`
	Capacity *float64 `json:"capacity_joules_per_kelvin"`
	Loss     *float64 `json:"loss_watts_per_kelvin"`
	Lag      *float64 `json:"lag_seconds"`
	Residual *float64 `json:"residual_kelvin"`
	Noise    *float64 `json:"noise_kelvin"`
	Foreseen *float64 `json:"predicted_overshoot_kelvin"`
	Duration float64  `json:"duration_seconds"`
	Warning  string   `json:"warning"`
}

func (f *found) json() tuneJSON {
	m := f.result.Model
	j := tuneJSON{
		Accepted: f.result.Accepted(), Reason: f.reason, Residual: figure(f.result.Residual), Noise: figure(f.result.Noise),
		Duration: f.duration.Seconds(), Warning: f.contradiction(),
	}
	if m.Power > 0 {
		j.Power, j.Capacity, j.Loss, j.Lag = figure(m.Power), figure(m.Capacity()), figure(m.Loss), figure(m.Lag().Seconds())
	}
	if j.Accepted {
		j.Foreseen = figure(f.foreseen)
	}
	return j
}

// figure is a number that JSON can carry, or null.
func figure[T ~float64](x T) *float64 {
	v := float64(x)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// contradiction is what speaks against what was declared; "" if nothing does.
// Mains 5 % off is power 10 % off, so that less is no contradiction.
func (f *found) contradiction() string {
	ratio := f.result.Contradiction
	if ratio == 0 || math.Abs(ratio-1) <= 0.1 {
		return ""
	}
	return fmt.Sprintf("the water warmed as if the element had %.0f W instead of %.0f W, or as if %.1f L were in the kettle instead of %.1f L; a test cannot tell which: measure the water, look at plate and voltage of the element",
		f.result.Model.Power, f.rig.Element.Power, suggest.Litres(f.water, f.rig.Kettle.Vessel, ratio), f.water)
}

// text is the report for a person.
func (f *found) text(out string) string {
	var b strings.Builder
	r, m := f.result, f.result.Model
	recorded := ""
	if f.record != "" {
		recorded = "The test is recorded in " + f.record + ".\n"
	}
	if !r.Accepted() {
		fmt.Fprintf(&b, "Not stored: %s.\n%s%s\n", f.reason, recorded, capitalLive)
		return b.String()
	}
	fmt.Fprintf(&b, "Found out in %s with %.1f L of water, and written to %s.\n\n", say.Length(f.duration), f.water, out)
	fmt.Fprintf(&b, "  element  %.0f W, give or take %.1f %%; declared %.0f W\n", m.Power, 200*r.Doubt, f.rig.Element.Power)
	fmt.Fprintf(&b, "  loss     %.1f W for each °C above the room, give or take %.0f %%; declared %.1f W\n", m.Loss, 200*r.LossSD, f.rig.Kettle.Loss)
	fmt.Fprintf(&b, "  lag      %.0f s: element %.0f s, probe %.0f s, delay %.0f s\n", m.Lag().Seconds(), m.Element.Seconds(), m.Probe.Seconds(), m.Delay.Seconds())
	fmt.Fprintf(&b, "  fit      leaves %.3f °C; the probe's noise is %.3f °C\n", float64(r.Residual), float64(r.Noise))
	fmt.Fprintf(&b, "  foreseen at most %.2f °C too hot in three rests of a rehearsal on this kettle\n", float64(f.foreseen))
	if w := f.contradiction(); w != "" {
		fmt.Fprintf(&b, "\nLook: %s.\n", w)
	}
	b.WriteString(f.comparison())
	fmt.Fprintf(&b, "\nName it in the rig file: tuning: %s\n%s", out, recorded)
	return b.String()
}

// comparison is our loop beside the usual rules, for this kettle as a process
// that integrates behind a delay.
func (f *found) comparison() string {
	var b strings.Builder
	m := f.result.Model
	process := tune.Process{Gain: float64(m.Power) / float64(m.Capacity()), Delay: m.Lag()}
	b.WriteString("\nGains of the loop that holds by the probe's reading, with this water (Ms: the smaller the more forgiving)\n")
	b.WriteString("           gain a °C      integral   derivative     Ms\n")
	ours := pid.SIMC(process.Gain, process.Delay, process.Delay)
	ours.Derivative = process.Delay / 4
	for _, row := range []struct {
		name  string
		gains pid.Gains
	}{{"ours", ours}, {"SIMC", pid.SIMC(process.Gain, process.Delay, process.Delay)}, {"AMIGO", tune.AMIGO(process)}} {
		fmt.Fprintf(&b, "  %-7s %8.1f %% %11.0f s %10.0f s   %5.2f\n", row.name, 100*row.gains.Proportional,
			row.gains.Integral.Seconds(), row.gains.Derivative.Seconds(), tune.Sensitivity(process, row.gains))
	}
	return b.String()
}
