package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"mashward/cmd/internal/late"
	"mashward/cmd/internal/late/follow"
	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/report"
	"mashward/cmd/internal/say"
	"mashward/cmd/internal/suggest"
)

// reporting is what dryrun needs for its report; an empty file name: none.
type reporting struct {
	file  string
	diary report.Diary
	late  *follow.Follower
}

func (r *reporting) options(o *options) {
	o.StringVar(&r.file, "report", "", "HTML `file` to write: one page with pictures that needs nothing else")
}

// watch has the day written down as it goes.
func (r *reporting) watch(run *rehearse.Run) {
	if r.file == "" {
		return
	}
	r.diary.Words = say.Day{Profile: run.Profile, Config: rehearse.Core(run.Profile, run.Plan)}
	r.late = follow.New(late.Of(run.Plan))
	run.Watchers = append(run.Watchers, &r.diary, r.late)
}

// write writes the page. It comes last: an unfinished report would look like one.
func (r *reporting) write(run *dryrun, d day, path string, result rehearse.Result, told *suggest.Told) error {
	if r.file == "" {
		return nil
	}
	profile, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	var page bytes.Buffer
	err = report.HTML(&page, report.Report{
		Plan: d.plan, Day: r.diary.Day(d.plan), Result: result,
		Profile: string(profile), Origins: run.origins(path), Suggestion: told, Late: r.late.Tell(),
	})
	if err != nil {
		return err
	}
	if err := os.WriteFile(r.file, page.Bytes(), 0o644); err != nil {
		return fmt.Errorf("the report cannot be written: %w", err)
	}
	return nil
}

// origins are what a rehearsal was made from. Paths are left out: they say
// nothing on another machine.
func (r *dryrun) origins(profile string) []string {
	out := []string{"Profile: " + filepath.Base(profile), "Rig: " + filepath.Base(r.rig)}
	if r.plant != "" {
		out = append(out, "Plant: "+filepath.Base(r.plant))
	}
	if r.faults != "" {
		out = append(out, "Faults put in on purpose: "+filepath.Base(r.faults))
	}
	if r.delay > 0 {
		out = append(out, fmt.Sprintf("Each prompt was answered after %s.", say.Length(time.Duration(r.delay))))
	}
	return append(out, fmt.Sprintf("Seed of chance: %d", r.seed), "Program: "+version())
}
