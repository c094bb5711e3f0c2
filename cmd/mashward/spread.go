package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/rehearse"
	"mashward/sim"
)

// checkSpread refuses what does not go with many runs.
func (r *dryrun) checkSpread() error {
	switch {
	case r.spread < 0 || r.spread > rehearse.MostRuns:
		return usage("dryrun: --spread %d: write a number from 1 to %d", r.spread, rehearse.MostRuns)
	case r.spread > 0 && strings.HasPrefix(r.plant, "unix:"):
		return usage("dryrun: --spread draws other kettles, and the one of --plant unix: is what it is: leave one out")
	case r.spread > 1 && (r.trace != "" || r.record != "" || r.report.file != "" || r.export.format != ""):
		return usage("dryrun: --trace, --record, --report and --export are of one day: add --spread 1 and the --seed of the day")
	}
	return nil
}

// unsure is the day with what is left open about it.
func (r *dryrun) unsure(d day, params sim.Params) rehearse.Unsure {
	return rehearse.Unsure{Plant: params, Load: config.Load(d.profile), Found: d.rig.Found, Delay: time.Duration(r.delay)}
}

// many rehearses as many days as --spread says.
func (r *dryrun) many(c *call, d day) error {
	params, script, err := r.truth(c, d)
	if err != nil {
		return err
	}
	u := r.unsure(d, params)
	s, err := rehearse.Many(r.spread, r.seed, func(seed uint64) rehearse.Run {
		drawn := u.Draw(seed)
		run := rehearse.On(d.rig, d.profile, d.plan, drawn.Kettle(d.profile, script, seed))
		run.Delay = drawn.Delay
		return run
	})
	if err != nil {
		return err
	}
	if r.format == "json" {
		err = encode(c.out, s)
	} else {
		err = rehearse.SpreadText(c.out, d.profile.Name, u, s)
	}
	if err == nil && !s.AllKept() {
		return &exit{code: exitShort}
	}
	return err
}

// writeDrawn says what the one day of --spread 1 differs in.
func (r *dryrun) writeDrawn(out io.Writer) error {
	if len(r.drawn) == 0 || r.format == "json" {
		return nil
	}
	_, err := fmt.Fprintf(out, "The day that seed %d draws:\n  %s.\n\n", r.seed, strings.Join(r.drawn, ";\n  "))
	return err
}
