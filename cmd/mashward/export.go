package main

import (
	"errors"
	"fmt"
	"io"
	"time"

	"mashward/cmd/internal/account"
	"mashward/cmd/internal/config"
	"mashward/cmd/internal/metricset"
	"mashward/cmd/internal/rehearse"
	"mashward/controller/record"
)

// export is what dryrun is asked to write for a time-series database.
type export struct {
	format string
	start  instant
	series *metricset.Export // nil: nothing is exported
}

// openMetrics is the one format there is.
const openMetrics = "openmetrics"

func (x *export) options(o *options) {
	x.start = instant(time.Date(2026, time.January, 10, 8, 0, 0, 0, time.UTC))
	o.StringVar(&x.format, "export", "", "`format` openmetrics: the metrics of the whole day, a sample every 15 s, on standard output;"+
		"\n      how it went is then told on standard error")
	o.Var(&x.start, "start", "`instant` of arming in the export")
}

// check refuses other formats.
func (x *export) check() error {
	if x.format != "" && x.format != openMetrics {
		return usage("dryrun: --export %s: write --export %s", x.format, openMetrics)
	}
	return nil
}

// watch has the metrics of the run collected.
func (x *export) watch(run *rehearse.Run, rig metricset.Rig, seed uint64) {
	if x.format == "" {
		return
	}
	tracker := metricset.NewTracker(run.Plan.Kettle.Power)
	tracker.Guard = &run.Loop().Guard
	tracker.Follow(metricset.BatchOf(fmt.Sprintf("rehearsal, seed %d", seed), run.Plan))
	program, _ := built()
	about := metricset.About{Build: program, Rig: rig, Simulated: true}
	x.series = metricset.NewExport(tracker, about, time.Time(x.start))
	run.Watchers = append(run.Watchers, x.series)
}

// write puts the export out and says where everything else goes.
func (x *export) write(c *call) (rest io.Writer, err error) {
	if x.series == nil {
		return c.out, nil
	}
	if _, err := x.series.WriteTo(c.out); err != nil {
		return nil, fmt.Errorf("the export cannot be written: %w", err)
	}
	return c.err, nil
}

// recordFormat refuses a format that the word of record does not have.
func recordFormat(verb, format string) error {
	if verb != "export" {
		return isFormat(format)
	}
	switch format {
	case "text", "csv", openMetrics: // text: nothing was said
		return nil
	}
	return usage("--format %s: write csv or %s", format, openMetrics)
}

// exportRecord is `mashward record export`.
func (c *call) exportRecord(r *record.Reader, format string, start instant) error {
	switch {
	case format == openMetrics:
		err := account.OpenMetrics(c.out, r, time.Time(start))
		if errors.Is(err, account.ErrNoBeginning) {
			return &config.Failure{Code: config.ExitBadInput, Err: err}
		}
		return err
	case !time.Time(start).IsZero():
		return usage("record: --start goes with --format %s", openMetrics)
	}
	return record.ExportCSV(c.out, r)
}

// instant is a flag for a date and time of day.
type instant time.Time

func (i *instant) String() string {
	if time.Time(*i).IsZero() {
		return ""
	}
	return time.Time(*i).Format(time.RFC3339)
}

func (i *instant) Set(text string) error {
	t, err := time.Parse(time.RFC3339, text)
	if err != nil || t.Unix() < 0 {
		return fmt.Errorf("write date, time and zone, such as 2026-01-10T08:00:00Z")
	}
	*i = instant(t)
	return nil
}
