package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"mashward/cmd/internal/bundle"
	"mashward/cmd/internal/config"
	"mashward/cmd/internal/late"
	"mashward/cmd/internal/say"
	"mashward/cmd/internal/suggest"
	"mashward/controller"
	"mashward/controller/record"
	"mashward/profile/enzyme"
)

const recordSynopsis = "list DIR|FILE... | show FILE | compare A B | report FILE | bundle FILE | export FILE | replay FILE | rig FILE"

// runRecord is `mashward record`.
func runRecord(c *call) error {
	o := newOptions("record", recordSynopsis,
		"FILE is a record or a bundle; of a folder, list tells the records.\n\n"+
			"list    one line for each record\nshow    a record in words\n"+
			"compare two records: what differed before, and each step with what came of it\n"+
			"report  one HTML page that needs nothing else, to --out\n"+
			"bundle  one file to give away, to --out: the record without what tells whose it is\n        (names of profile and steps stay: read them first)\nexport  every tick as CSV, units in the header; or, with --format openmetrics, what a\n        scrape every 15 s would have seen, for a time-series database\n"+
			"replay  feeds the record through the core, compares the decisions, and holds each tick\n        to what must always hold; exit code 1 where they differ or it does not\n"+
			"rig     the rig file as it was when the batch was armed", c.out)
	format := o.String("format", "text", "text or json, for list, show and compare; csv, the default, or openmetrics, for export")
	var start instant
	o.Var(&start, "start", "`instant` of arming, for export as openmetrics of a record that does not know it")
	var out afterwards
	out.options(o)
	if done, err := o.parse(c.args); done || err != nil {
		return err
	}
	if len(o.words) == 0 {
		return usage("record: what about it? %s", recordSynopsis)
	}
	verb := o.words[0]
	o.words = o.words[1:]
	if err := recordFormat(verb, *format); err != nil {
		return err
	}
	act, ok := map[string]func(string, *record.Reader) error{
		"show":   func(path string, r *record.Reader) error { return c.showRecord(path, r, &out, *format == "json") },
		"report": func(path string, _ *record.Reader) error { return c.reportRecord(path, &out) },
		"bundle": func(path string, _ *record.Reader) error { return c.bundleRecord(path, &out) },
		"rig":    c.recordedRig,
		"export": func(_ string, r *record.Reader) error { return c.exportRecord(r, *format, start) },
		"replay": func(_ string, r *record.Reader) error { return c.replayRecord(r) },
	}[verb]
	if !ok && verb != "list" && verb != "compare" {
		return usage("record: there is no %q; %s", verb, recordSynopsis)
	}
	if err := o.goWith(verb); err != nil {
		return err
	}
	switch verb {
	case "list":
		return c.listRecords(o.words, *format == "json")
	case "compare":
		return c.compareRecords(o.words, &out, *format == "json")
	}
	path, err := o.one("record")
	if err != nil {
		return err
	}
	return withRecord(path, func(r *record.Reader) error { return act(path, r) })
}

// goesWith are the words of record that take an option.
var goesWith = map[string][]string{
	"format": {"list", "show", "compare", "export"}, "start": {"export"}, "out": {"report", "bundle"}, "tariff": {"show", "compare", "report"},
}

// goWith refuses an option that would change nothing.
func (o *options) goWith(verb string) (err error) {
	o.Visit(func(f *flag.Flag) {
		if words := goesWith[f.Name]; !slices.Contains(words, verb) {
			err = usage("record: --%s does not go with %s, but with %s", f.Name, verb, strings.Join(words, ", "))
		}
	})
	return err
}

// recordedRig prints the rig file as it was when the batch was armed.
func (c *call) recordedRig(path string, r *record.Reader) error {
	if r.Head.RigText == "" {
		return &config.Failure{Code: config.ExitBadInput, Err: fmt.Errorf("%s holds no rig file: it is not of a batch that was served", path)}
	}
	_, err := io.WriteString(c.out, r.Head.RigText)
	return err
}

// withRecord opens a record, or the one in a bundle, for looking only.
func withRecord(path string, act func(*record.Reader) error) error {
	return withStorage(path, func(storage record.Storage) error {
		r, err := record.Read(storage)
		if err != nil {
			return &config.Failure{Code: config.ExitBadInput, Err: fmt.Errorf("%s: %w", path, err)}
		}
		return act(r)
	})
}

// withStorage is the same, for what is read more than once.
func withStorage(path string, act func(record.Storage) error) error {
	f, err := record.View(path)
	if errors.Is(err, fs.ErrNotExist) {
		return &config.Failure{Code: config.ExitMissing, Err: fmt.Errorf("%s is missing; `mashward record list FOLDER` lists the records there", path)}
	}
	if err != nil {
		if about, other := os.Stat(path); other == nil && about.IsDir() {
			return usage("record: %s is a folder: name a record in it; `mashward record list %s` lists them", path, path)
		}
		return err
	}
	defer f.Close()
	size, err := f.Size()
	if err != nil {
		return err
	}
	all := io.NewSectionReader(f, 0, size)
	if beginning := make([]byte, 64); !bundle.Looks(beginning[:readUp(f, beginning)]) {
		return act(f)
	}
	packed, err := bundle.Read(all)
	if err != nil {
		return &config.Failure{Code: config.ExitBadInput, Err: fmt.Errorf("%s: %w", path, err)}
	}
	return act(packed)
}

// readUp reads what there is of the beginning of a file.
func readUp(f io.ReaderAt, p []byte) int {
	n, _ := f.ReadAt(p, 0) // what cannot be read is told by whoever reads it as a record
	return n
}

// recordFiles are the files named, and those of the folders named.
func recordFiles(names []string) ([]string, error) {
	var files []string
	for _, name := range names {
		about, err := os.Stat(name)
		if errors.Is(err, fs.ErrNotExist) {
			return nil, &config.Failure{Code: config.ExitMissing, Err: fmt.Errorf("%s is missing; name a record, or the folder that `mashward serve --state` was given", name)}
		}
		if err != nil {
			return nil, err
		}
		if !about.IsDir() {
			files = append(files, name)
			continue
		}
		found, err := filepath.Glob(filepath.Join(name, "*"+recordSuffix))
		if err != nil {
			return nil, err
		}
		files = append(files, found...)
	}
	slices.Sort(files)
	return files, nil
}

// recordSuffix is what names of records end in.
const recordSuffix = ".batch"

// listed is one record in a list.
type listed struct {
	File     string  `json:"file"`
	Began    string  `json:"began"`
	Profile  string  `json:"profile"`
	Outcome  string  `json:"outcome"`
	Reason   string  `json:"reason"`
	Duration float64 `json:"duration_seconds"`
	Fake     bool    `json:"simulated"`
}

func (c *call) listRecords(names []string, asJSON bool) error {
	if len(names) == 0 {
		names = []string{"."}
	}
	files, err := recordFiles(names)
	if err != nil {
		return err
	}
	all := []listed{}
	for _, name := range files {
		err := withRecord(name, func(r *record.Reader) error {
			s, err := record.Summarize(r)
			if err != nil {
				return err
			}
			all = append(all, listed{name, s.Head.Began, s.Head.Profile, outcome(s), s.Reason.String(), s.Duration.Seconds(), s.Head.Simulated})
			return nil
		})
		if err != nil {
			fmt.Fprintf(c.err, "%s: %v\n", name, err)
		}
	}
	if asJSON {
		return c.json(all)
	}
	for _, l := range all {
		fmt.Fprintf(c.out, "%s  %s  %s, %s%s\n", l.File, l.Profile, l.Outcome, say.Length(time.Duration(l.Duration*float64(time.Second))), fake(l.Fake))
	}
	return nil
}

func fake(simulated bool) string {
	if simulated {
		return "  (simulated)"
	}
	return ""
}

func outcome(s record.Summary) string {
	if !s.Ended {
		return "cut off"
	}
	return s.Outcome.String()
}

// because is the reason in brackets; a batch that ran has none.
func because(r controller.Reason) string {
	if r == controller.NoReason {
		return ""
	}
	return " (" + r.String() + ")"
}

// learned is what the strike heat-up of a record shows. The name of the rig's
// file is not in a record.
func learned(path string) (s suggest.Suggestion, told *suggest.Told) {
	err := withRecord(path, func(r *record.Reader) (err error) {
		s, err = suggest.FromRecord(r)
		return err
	})
	if err != nil { // no strike heat-up; what is wrong with the file is said elsewhere
		return suggest.Suggestion{}, nil
	}
	const rig = "RIG.yaml"
	return s, s.Tell(suggest.Files{Rig: rig, Record: path, Out: suggest.OutFor(rig, "")})
}

// learnedText is the same for a person; "" where the batch could not be judged.
func learnedText(s suggest.Suggestion, told *suggest.Told) string {
	switch {
	case told != nil:
		return "The strike heat-up shows another kettle than the batch was run with. " + told.Text +
			"\nNothing has been changed. To take it over, with your kettle's file for RIG.yaml, run\n  " + told.Command + "\n"
	case s.Agrees():
		return fmt.Sprintf("the strike heat-up agrees with the figures it was run with: power within %.1f %%\n", 100*math.Abs(s.Found.Contradiction-1))
	}
	return ""
}

// mashedText is what became of the enzymes over the recorded estimate of the mash, for a
// person; "" without a mash.
func mashedText(course *enzyme.Course, s *record.Summary) string {
	if course.Report() == nil {
		return ""
	}
	return "\nMash enzymes over the estimated mash: an estimate\n" + course.Words(func(step int) string {
		if step >= len(s.Head.Config.Steps) {
			return ""
		}
		title := s.Head.Config.Steps[step].Kind.String()
		for i := len(s.Steps) - 1; i >= 0; i-- {
			if int(s.Steps[i].Index) == step {
				return fmt.Sprintf("%s %.1f °C", title, s.Steps[i].Target)
			}
		}
		return title
	})
}

// latenessText is how late a batch was, and why; "" where it is not known.
func latenessText(told *late.Told) string {
	if told == nil {
		return ""
	}
	var b strings.Builder
	fmt.Fprintf(&b, "\nAgainst its plan: %s\n", told.Text)
	for _, p := range told.Parts {
		if p.Seconds >= 30 || p.Seconds <= -30 {
			fmt.Fprintf(&b, "  %6.1f min  %s\n", float64(p.Seconds)/60, p.Text)
		}
	}
	return b.String()
}

func (c *call) showRecord(path string, r *record.Reader, after *afterwards, asJSON bool) error {
	fit, told := learned(path)
	a, err := after.account(path)
	if err != nil {
		return err
	}
	if asJSON {
		return c.json(shownRecord{a, told})
	}
	s, err := record.Summarize(r)
	if err != nil {
		return err
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s%s\n%s%s after %s\n", s.Head.Profile, fake(s.Head.Simulated), outcome(s), because(s.Reason), say.Length(s.Duration))
	if s.Measured {
		fmt.Fprintf(&b, "hottest reading %.1f °C, element switched on %d times\n", s.Highest, s.Switches)
	}
	b.WriteString(accountText(&a))
	if r.Foreign() != nil {
		b.WriteString("another version of the program wrote it: what only that one knows is left out\n")
	}
	if s.Lost > 0 {
		fmt.Fprintf(&b, "%d s could not be stored and are missing\n", s.Lost)
	}
	if s.Torn > 0 {
		fmt.Fprintf(&b, "the last %d bytes were not written whole and are left out\n", s.Torn)
	}
	if s.Damage != nil {
		fmt.Fprintf(&b, "damaged: %v\n", s.Damage)
	}
	for _, l := range s.Lines {
		fmt.Fprintf(&b, "%s  %s\n", say.Clock(l.At), l.Text)
	}
	b.WriteString(latenessText(a.Late))
	b.WriteString(mashedText(a.Day.Mash, &s))
	b.WriteString(wortText(&a))
	b.WriteString(forecastText(a.Day.Score.Tell(clockOf(&s))))
	b.WriteString(learnedText(fit, told))
	_, err = fmt.Fprint(c.out, b.String())
	return err
}

func (c *call) replayRecord(r *record.Reader) error {
	result, err := record.Replay(r)
	if err != nil {
		return &exit{exitShort, err.Error()}
	}
	if result.Difference != nil {
		fmt.Fprintln(c.out, result.Difference)
		return &exit{code: exitShort}
	}
	fmt.Fprintf(c.out, "%d ticks give the same decisions\n", result.Ticks)
	if result.Judged > 0 {
		fmt.Fprintf(c.out, "%d ticks held to what must always hold: %d breaches\n", result.Judged, len(result.Broken))
	}
	for _, b := range result.Broken {
		fmt.Fprintln(c.out, b)
	}
	if len(result.Broken) > 0 {
		return &exit{code: exitShort}
	}
	return nil
}

func (c *call) json(v any) error { return encode(c.out, v) }
