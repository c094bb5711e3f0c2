package main

import (
	"fmt"
	"time"

	"mashward/cmd/internal/config"
	"mashward/profile"
	"mashward/profile/plan"
	"mashward/profile/strict"
)

// day is a profile on a rig, worked out.
type day struct {
	profile profile.Profile
	rig     config.Rig
	plan    plan.Plan
}

// loadDay reads profile and rig and works out the plan. Warnings go to err at
// once; a day that cannot be run on this rig is a *config.Failure with 65.
func (c *call) loadDay(profilePath, rigPath, tuningPath string) (day, error) {
	if rigPath == "" {
		return day{}, usage("which rig? Add --rig FILE")
	}
	rig, warnings, rigErr := config.LoadRig(rigPath)
	c.warn(warnings)
	if tuningPath != "" && rigErr == nil {
		rig, rigErr = c.tuned(rig, tuningPath)
	}
	p, warnings, err := config.LoadProfile(profilePath)
	if rigErr != nil && err != nil {
		return day{}, &both{rigErr, err}
	}
	if rigErr != nil {
		return day{}, rigErr
	}
	if err != nil {
		return day{}, err
	}
	c.warn(warnings)
	d, _ := plan.Make(p, rig.PlanKettle())
	return day{p, rig, d}, nil
}

// tuned is the rig with a tuning file that counts before the one it names.
func (c *call) tuned(rig config.Rig, path string) (config.Rig, error) {
	t, warnings, err := config.LoadTuning(path)
	if err != nil {
		return rig, err
	}
	c.warn(warnings)
	return rig.Tuned(t), nil
}

// both is two files that cannot be used: both are told, the rig's code counts.
type both struct{ rig, profile error }

func (b *both) Error() string { return b.rig.Error() + "\n" + b.profile.Error() }
func (b *both) As(target any) bool {
	f, ok := target.(**config.Failure)
	if !ok {
		return false
	}
	rig, ok := b.rig.(*config.Failure)
	if !ok {
		return false
	}
	*f = &config.Failure{Code: rig.Code, Err: b}
	return true
}

// refuse is an error when the plan says that the day cannot be run.
func (d day) refuse() error {
	faults := config.Check(d.profile, d.rig)
	if strict.Refused(faults) {
		return &config.Failure{Code: config.ExitBadInput, Faults: faults}
	}
	return nil
}

func (c *call) warn(faults []strict.Fault) {
	for _, f := range faults {
		fmt.Fprintln(c.err, f)
	}
}

// runPlan is `mashward plan`.
func runPlan(c *call) error {
	o := newOptions("plan", "--rig FILE [options] PROFILE",
		"Works out the day: strike temperature, heat-ups, volumes and depths, gravity and\nlosses, when a person is needed, finish and energy; and what this kettle cannot do.\n"+
			"With --wanted, --gravity or --grain it works the day out backwards: a profile of\nanother size for this kettle, to standard output or to --out. With --sheet it\n"+
			"prints a page to lie beside the kettle.", c.out)
	rig := o.String("rig", "", "the kettle's `file`")
	format := o.String("format", "text", "text or json")
	sheet := o.Bool("sheet", false, "the brew sheet: one page of plain text to print")
	start := o.String("start", "", "`hh:mm` of arming, for the times on the sheet")
	ready := o.String("ready", "", "`hh:mm` by which the strike water is to be hot: says when to begin")
	var w wishCall
	w.options(o)
	if done, err := o.parse(c.args); done || err != nil {
		return err
	}
	path, err := o.one("profile")
	if err != nil {
		return err
	}
	if err := isFormat(*format); err != nil {
		return err
	}
	if err := w.read(); err != nil {
		return err
	}
	h, err := heading(*sheet, *start, *format)
	if err != nil {
		return err
	}
	hot, err := readyTime(*ready, *format, *sheet || w.asked())
	if err != nil {
		return err
	}
	d, err := c.loadDay(path, *rig, "")
	if err != nil {
		return err
	}
	if w.asked() {
		return c.scale(d, w, path, *format, h)
	}
	if h != nil {
		return c.tellSheet(d, *h)
	}
	if err := c.tellPlan(d, *format); err != nil {
		return err
	}
	if err := d.refuse(); err != nil || hot.IsZero() {
		return err
	}
	return c.readyLine(d.plan, hot)
}

// heading is what a sheet begins with; nil: no sheet was asked for.
func heading(sheet bool, start, format string) (*plan.Heading, error) {
	if !sheet {
		if start != "" {
			return nil, usage("--start: the times of a plan count from arming; add --sheet for times of day")
		}
		return nil, nil
	}
	if format != "text" {
		return nil, usage("--sheet: it is plain text; leave --format out")
	}
	h := &plan.Heading{HasStart: start != ""}
	if h.HasStart {
		t, err := time.Parse("15:04", start)
		if err != nil {
			return nil, usage("--start %s: write hours and minutes, as 09:30", start)
		}
		h.Start = time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute
	}
	return h, nil
}

// tellSheet prints the sheet of a day that can be run; of another there is none.
func (c *call) tellSheet(d day, h plan.Heading) error {
	if err := d.refuse(); err != nil {
		return err
	}
	h.Rig = d.rig.Name
	return plan.Sheet(c.out, d.plan, h)
}

func (c *call) tellPlan(d day, format string) error {
	if format == "json" {
		return plan.JSON(c.out, d.plan)
	}
	return plan.Text(c.out, d.plan)
}

func isFormat(format string) error {
	if format != "text" && format != "json" {
		return usage("--format %s: write text or json", format)
	}
	return nil
}
