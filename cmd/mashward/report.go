package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"mashward/cmd/internal/account"
	"mashward/cmd/internal/config"
	"mashward/cmd/internal/rehearse"
	"mashward/cmd/internal/report"
	"mashward/cmd/internal/say"
	"mashward/cmd/internal/suggest"
	"mashward/controller/record"
)

// reporting is what dryrun needs for its report; an empty file name: none.
type reporting struct {
	file   string
	tariff price
	diary  report.Diary
	tally  account.Tally
}

func (r *reporting) options(o *options) {
	o.StringVar(&r.file, "report", "", "HTML `file` to write: one page with pictures that needs nothing else")
	r.tariff.options(o)
}

// check refuses a price that nothing is reckoned with.
func (r *reporting) check() error {
	if r.tariff.Currency != "" && r.file == "" {
		return usage("dryrun: --tariff is for the report: add --report FILE.html, or leave it out")
	}
	return nil
}

// watch has the day written down as it goes.
func (r *reporting) watch(run *rehearse.Run) {
	if r.file == "" {
		return
	}
	r.diary.Words = say.Day{Profile: run.Profile, Config: rehearse.Core(run.Profile, run.Plan)}
	r.tally = account.Tally{Power: run.Plan.Kettle.Power, Energy: run.Kettle.Energy}
	run.Watchers = append(run.Watchers, &r.diary, &r.tally)
}

// account is what the record of the rehearsal comes to.
func (r *reporting) account(storage record.Storage) (*account.Account, error) {
	a, err := account.ReadWith(storage, &r.tally)
	if r.tariff.Currency != "" {
		a.Price(config.Tariff(r.tariff))
	}
	return &a, err
}

// write writes the page. It comes last: an unfinished report would look like one.
func (r *reporting) write(run *dryrun, d day, path string, result rehearse.Result, told *suggest.Told) error {
	if r.file == "" {
		return nil
	}
	a, err := r.account(run.memory)
	if err != nil {
		return err
	}
	var page bytes.Buffer
	err = report.HTML(&page, report.Report{
		Plan: d.plan, Day: r.diary.Day(d.plan), Result: result,
		Account: a, Origins: run.origins(path), Suggestion: told,
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
	out = append(out, fmt.Sprintf("Seed of chance: %d", r.seed))
	if len(r.drawn) > 0 {
		out = append(out, "Drawn by that seed: "+strings.Join(r.drawn, "; "))
	}
	return out
}
