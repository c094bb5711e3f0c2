package main

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/suggest"
	"mashward/controller/record"
	"mashward/controller/unit"
	"mashward/profile"
	"mashward/profile/strict"
	"mashward/sim"
	"mashward/sim/fault"
)

// dryrun is one call of `mashward dryrun`.
type dryrun struct {
	rig, tuning, plant, faults, trace, record, format string
	seed                                              uint64
	delay                                             length
	spread                                            int      // days to rehearse, drawn from what is left open; 0: the one as declared
	drawn                                             []string // what the one day of --spread 1 differs in
	export                                            export
	report                                            reporting
	memory                                            *record.Memory // nil: nothing is recorded
	strike                                            suggest.Strike
}

// runDryrun is `mashward dryrun`.
func runDryrun(c *call) error {
	var r dryrun
	o := newOptions("dryrun", "--rig FILE [options] PROFILE",
		"Rehearses the whole batch on a simulated kettle, through the same loop, interlock\n"+
			"and lease that drive a real one. Prompts are answered at once, or after\n"+
			"--person-delay. Exit code 0: the batch was complete, and all that the profile\n"+
			"expects was kept; 1: it was not.", c.out)
	o.StringVar(&r.rig, "rig", "", "the kettle's `file`")
	o.StringVar(&r.tuning, "tuning", "", "tuning `file`; counts before the one the rig names")
	o.StringVar(&r.plant, "plant", "", "`file` with the true physics of the simulated rig, or unix:PATH of a plant in another process")
	o.StringVar(&r.faults, "faults", "", "`file` with what goes wrong")
	o.Uint64Var(&r.seed, "seed", 1, "`number` that fixes everything left to chance")
	o.StringVar(&r.trace, "trace", "", "CSV `file` to write, one row a second")
	o.StringVar(&r.record, "record", "", "record `file` to write, as a real batch would")
	o.StringVar(&r.format, "format", "text", "text or json")
	r.export.options(o)
	r.report.options(o)
	o.Var(&r.delay, "person-delay", "`time` the person takes to answer a prompt, such as '5 min'; with --spread the longest")
	o.IntVar(&r.spread, "spread", 0, "`number` of days to rehearse, each drawn by its own seed from what rig and water\n      test leave open; exit code 0 only if all of them keep all. 1 shows the one of --seed")
	if done, err := o.parse(c.args); done || err != nil {
		return err
	}
	if err := cmp.Or(isFormat(r.format), r.export.check(), r.report.check(), r.checkSpread()); err != nil {
		return err
	}
	path, err := o.one("profile")
	if err != nil {
		return err
	}
	return r.run(c, path)
}

func (r *dryrun) run(c *call, path string) (err error) {
	d, err := c.loadDay(path, r.rig, r.tuning)
	if err != nil {
		return err
	}
	if err := d.refuse(); err != nil {
		return err
	}
	if r.spread > 1 {
		return r.many(c, d)
	}
	kettle, delay, err := r.kettle(c, d)
	if err != nil {
		return err
	}
	defer closeKettle(kettle)
	run := rehearse.On(d.rig, d.profile, d.plan, kettle)
	run.Delay = delay
	r.export.watch(&run, labelOf(d.rig), r.seed)
	r.report.watch(&run)
	run.Watchers = append(run.Watchers, &r.strike)
	closeTrace, err := r.open(&run, d)
	if err != nil {
		return err
	}
	result, err := run.Go()
	if closing := closeTrace(); err == nil {
		err = closing
	}
	if err != nil {
		return err
	}
	told := r.suggestion(d)
	if err := r.report.write(r, d, path, result, told); err != nil {
		return err
	}
	out, err := r.export.write(c)
	if err != nil {
		return err
	}
	if err := r.print(out, d, result, told); err != nil {
		return err
	}
	if !result.Kept() {
		return &exit{code: exitShort}
	}
	return nil
}

// open prepares the files that are written along the way.
func (r *dryrun) open(run *rehearse.Run, d day) (closeAll func() error, err error) {
	closeAll = func() error { return nil }
	if r.trace != "" {
		f, err := os.Create(r.trace)
		if err != nil {
			return closeAll, fmt.Errorf("the trace cannot be written: %w", err)
		}
		run.Trace = rehearse.NewTrace(f)
		closeAll = f.Close
	}
	if r.record == "" && r.report.file == "" {
		return closeAll, nil
	}
	head, err := d.head()
	if err != nil {
		return closeAll, err
	}
	// In memory until the end: a rehearsal does not wait for a disk.
	r.memory = &record.Memory{}
	recorder, err := run.Record(r.memory, head)
	if err != nil {
		return closeAll, err
	}
	run.Watchers = append(run.Watchers, keepForecasts(run, recorder)) // behind the recorder
	closeTrace := closeAll
	return func() error {
		recorder.End()
		err := errors.Join(recorder.Close(context.Background()), closeTrace())
		if r.record != "" {
			err = errors.Join(err, os.WriteFile(r.record, r.memory.Bytes, 0o644))
		}
		return err
	}, nil
}

// head says what a record of a rehearsal is of.
func (d day) head() (record.Head, error) {
	h := record.Head{Program: version(), Simulated: true, Profile: d.profile.Name}
	for path, text := range map[string]*string{d.profile.File: &h.ProfileText, d.rig.File: &h.RigText} {
		read, err := os.ReadFile(path)
		if err != nil {
			return h, err
		}
		*text = string(read)
	}
	return h, nil
}

// suggestion is what the strike heat-up shows about the kettle; nil for nothing
// to suggest. A simulated kettle that is as the rig declares shows nothing else.
func (r *dryrun) suggestion(d day) *suggest.Told {
	samples, err := r.strike.Samples()
	if err != nil || r.plant == "" && r.faults == "" {
		return nil
	}
	config := rehearse.Core(d.profile, d.plan)
	config.Model = d.rig.Model()
	files := suggest.Files{Rig: r.rig, Record: r.record, Out: suggest.OutFor(r.rig, cmp.Or(r.tuning, d.rig.TuningPath()))}
	if files.Record == "" {
		files.Record = "day" + recordSuffix // of a rehearsal with --record
	}
	return suggest.Of(samples, &config).Tell(files)
}

// shown is a result with what it suggests.
type shown struct {
	rehearse.Result
	Suggestion *suggest.Told `json:"suggestion,omitempty"`
}

func (r *dryrun) print(out io.Writer, d day, result rehearse.Result, told *suggest.Told) error {
	if r.format == "json" {
		return encode(out, shown{result, told})
	}
	if err := r.writeDrawn(out); err != nil {
		return err
	}
	if err := rehearse.Text(out, d.plan, result); err != nil || told == nil {
		return err
	}
	first := ""
	if r.record == "" {
		first = "rehearse it once more with --record day" + recordSuffix + ", then "
	}
	_, err := fmt.Fprintf(out, "\nThe strike heat-up shows another kettle than the rig declares. %s\nNothing has been changed. To take it over, %srun\n  %s\n", told.Text, first, told.Command)
	return err
}

// encode writes a value as JSON for people and programs.
func encode(out io.Writer, v any) error {
	e := json.NewEncoder(out)
	e.SetIndent("", " ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// kettle is what the rehearsal runs on, and how long the person takes.
func (r *dryrun) kettle(c *call, d day) (rehearse.Kettle, time.Duration, error) {
	delay := time.Duration(r.delay)
	if path, ok := strings.CutPrefix(r.plant, "unix:"); ok {
		if r.faults != "" {
			return nil, 0, usage("dryrun: --faults needs the plant in this process: leave out unix:")
		}
		k, err := dial("dryrun", path, rehearse.Load{
			Water: d.profile.Water, Grain: d.profile.Grain.Mass,
			GrainTemperature: d.profile.Grain.Temperature,
		}, d.rig.Element.Power)
		return k, delay, err
	}
	params, script, err := r.truth(c, d)
	if err != nil {
		return nil, 0, err
	}
	if r.spread == 0 {
		return simulated(d.profile, params, script, r.seed), delay, nil
	}
	u := r.unsure(d, params)
	drawn := u.Draw(r.seed)
	r.drawn = drawn.Words(u)
	return drawn.Kettle(d.profile, script, r.seed), drawn.Delay, nil
}

// truth is the true kettle, and what goes wrong with it.
func (r *dryrun) truth(c *call, d day) (params sim.Params, script fault.Script, err error) {
	var warnings []strict.Fault
	params = d.rig.Plant()
	if r.plant != "" {
		if params, warnings, err = config.LoadPlant(r.plant, params); err != nil {
			return params, nil, err
		}
		c.warn(warnings)
	}
	if r.faults != "" {
		if script, warnings, err = config.LoadFaults(r.faults); err != nil {
			return params, nil, err
		}
		c.warn(warnings)
	}
	return params, script, nil
}

// simulated is a bench with its faults.
func simulated(p profile.Profile, params sim.Params, script fault.Script, seed uint64) *rehearse.Simulated {
	return rehearse.Bench(p, params, config.Load(p), script, seed)
}

// dial connects to a plant in another process for a command.
func dial(command, path string, load rehearse.Load, power unit.Watts) (rehearse.Kettle, error) {
	k, err := rehearse.Dial(path, load, power)
	if err != nil {
		return nil, &exit{exitDevice, command + ": " + err.Error()}
	}
	return k, nil
}

func closeKettle(k rehearse.Kettle) {
	if c, ok := k.(io.Closer); ok {
		c.Close() // the plant's process sees the end of the batch
	}
}
