package main

import (
	"cmp"
	"fmt"
	"io"
	"strings"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/moments"
	"mashward/cmd/internal/say"
	"mashward/controller"
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
	start := o.String("start", "", "`hh:mm` of arming: when you are needed, and the times on the sheet, by the clock")
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
	armed, err := timeOfDay(*start)
	if err != nil {
		return err
	}
	h, err := heading(*sheet, armed, *format)
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
		if armed != nil && h == nil {
			return usage("--start: a profile that is scaled has no times; add --sheet")
		}
		return c.scale(d, w, path, *format, h)
	}
	if h != nil {
		return c.tellSheet(d, *h)
	}
	return c.tellDay(d, *format, armed, hot)
}

// tellDay prints the plan, when somebody is needed, and when to begin, as far as these
// were asked for. A wrong call prints nothing; a day that cannot be run, its plan.
func (c *call) tellDay(d day, format string, armed *time.Duration, hot time.Time) error {
	refused, strike := d.refuse(), ""
	if refused == nil {
		var err error
		if strike, err = readyText(d.plan, hot); err != nil {
			return err
		}
	}
	if err := c.tellPlan(d, format); err != nil || refused != nil {
		return cmp.Or(err, refused)
	}
	if err := c.tellNeeded(d, armed); err != nil {
		return err
	}
	_, err := io.WriteString(c.out, strike)
	return err
}

// timeOfDay reads hours and minutes; nil: none were given.
func timeOfDay(start string) (*time.Duration, error) {
	if start == "" {
		return nil, nil
	}
	t, err := time.Parse("15:04", start)
	if err != nil {
		return nil, usage("--start %s: write hours and minutes, as 09:30", start)
	}
	at := time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute
	return &at, nil
}

// heading is what a sheet begins with; nil: no sheet was asked for.
func heading(sheet bool, armed *time.Duration, format string) (*plan.Heading, error) {
	switch {
	case format != "text" && armed != nil && !sheet:
		return nil, usage("--start: the seconds of a plan count from arming; leave --format out")
	case !sheet:
		return nil, nil
	case format != "text":
		return nil, usage("--sheet: it is plain text; leave --format out")
	}
	h := &plan.Heading{HasStart: armed != nil}
	if armed != nil {
		h.Start = *armed
	}
	return h, nil
}

// tellNeeded prints when somebody has to be there, by the clock, for a day that begins
// then: the list that a running batch has, as long as all goes as planned.
func (c *call) tellNeeded(d day, armed *time.Duration) error {
	if armed == nil {
		return nil
	}
	var midnight, noDay time.Time
	l := moments.Of(moments.PlanAhead(d.plan, &controller.Decision{}, 0), 0, midnight.Add(*armed), 1)
	var b strings.Builder
	fmt.Fprintf(&b, "\nWhen you are needed, armed at %s\n", moments.Clock(midnight.Add(*armed), noDay))
	for i := range l.Entries {
		e := &l.Entries[i]
		fmt.Fprintf(&b, "  %5s  %s\n", say.Clock(e.Moment.At), e.Words(noDay))
	}
	if !l.Finish.At.Before(midnight.Add(24 * time.Hour)) {
		fmt.Fprintln(&b, "  The day ends after midnight.")
	}
	fmt.Fprintln(&b, "  In front the hours and minutes since arming. Each minute that a prompt\n  waits makes what is behind it a minute later.")
	_, err := io.WriteString(c.out, b.String())
	return err
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
