package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"runtime"
	"runtime/debug"
	"strings"
	"time"

	"mashward/cmd/internal/metricset"
	"mashward/controller/unit"
)

// options is a flag set whose flags may stand before and behind the files.
type options struct {
	*flag.FlagSet
	words []string // what is no flag
	help  func()
}

// newOptions prepares the flags of a sub-command; synopsis is what follows the
// name, about a sentence or more.
func newOptions(name, synopsis, about string, out io.Writer) *options {
	o := &options{FlagSet: flag.NewFlagSet(name, flag.ContinueOnError)}
	o.SetOutput(io.Discard)
	o.Usage = func() {} // the package would print it for every wrong option
	o.help = func() {
		fmt.Fprintf(out, "Usage: mashward %s %s\n\n%s\n", name, synopsis, about)
		o.VisitAll(func(f *flag.Flag) { fmt.Fprint(out, optionLine(f)) })
	}
	return o
}

// optionLine is one option in the help: its name, what it takes, what it does.
func optionLine(f *flag.Flag) string {
	takes, does := flag.UnquoteUsage(f)
	if takes == "string" {
		takes = "word"
	}
	line := fmt.Sprintf("\n  %s\n      %s", strings.TrimSpace("--"+f.Name+" "+strings.ToUpper(takes)), does)
	if f.DefValue != "" && f.DefValue != "0" && f.DefValue != "0s" && f.DefValue != "false" {
		line += fmt.Sprintf(" (else %s)", f.DefValue)
	}
	return line + "\n"
}

// parse reads the arguments; done tells that help was asked for and given.
func (o *options) parse(args []string) (done bool, err error) {
	for {
		err := o.Parse(args)
		if errors.Is(err, flag.ErrHelp) {
			o.help()
			return true, nil
		}
		if err != nil {
			return false, o.wrong(err)
		}
		rest := o.Args()
		if len(rest) == 0 {
			return false, nil
		}
		o.words = append(o.words, rest[0])
		args = rest[1:]
	}
}

// one is the single file that a command works on.
func (o *options) one(what string) (string, error) {
	switch len(o.words) {
	case 1:
		return o.words[0], nil
	case 0:
		return "", usage("%s: which %s? Name its file", o.Name(), what)
	}
	return "", usage("%s: one %s at a time, not %s", o.Name(), what, strings.Join(o.words, " "))
}

// length is a flag for a time as the files write it: 5 min, 1h15.
type length time.Duration

func (l *length) String() string { return time.Duration(*l).String() }

func (l *length) Set(text string) error {
	d, err := unit.ParseDuration(text)
	if err != nil {
		return err
	}
	*l = length(d)
	return nil
}

// terminal tells whether w is a terminal that may be written over. NO_COLOR,
// TERM=dumb and a pipe all ask for plain lines.
func terminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok || os.Getenv("NO_COLOR") != "" || os.Getenv("TERM") == "dumb" || os.Getenv("TERM") == "" {
		return false
	}
	about, err := f.Stat()
	return err == nil && about.Mode()&os.ModeCharDevice != 0
}

// version is one line about this binary.
func version() string {
	b, system := built()
	return fmt.Sprintf("mashward %s %s %s %s", b.Version, b.Revision, b.Go, system)
}

// built is what this binary was made of, and for which system.
func built() (b metricset.Build, system string) {
	about, ok := debug.ReadBuildInfo()
	if !ok {
		return metricset.Build{Version: "unknown version", Revision: "unknown revision", Go: runtime.Version()}, runtime.GOOS + "/" + runtime.GOARCH
	}
	b = metricset.Build{Version: about.Main.Version, Revision: "unknown revision", Go: about.GoVersion}
	for _, s := range about.Settings {
		switch s.Key {
		case "vcs.revision":
			b.Revision = s.Value
		case "GOOS", "GOARCH":
			system += "/" + s.Value
		}
	}
	return b, strings.TrimPrefix(system, "/")
}
