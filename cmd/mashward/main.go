// Command mashward carries a brew day in one electric kettle.
//
// Data goes to standard output, messages to standard error. Exit codes follow
// BSD's sysexits: 0 ok; 1 the thing examined falls short; 64 usage; 65 bad
// profile, plant or faults; 66 file missing; 69 device unavailable; 70 bug;
// 74 I/O; 77 permission; 78 bad rig, tuning or notify file.
package main

import (
	"errors"
	"fmt"
	"io"
	"os"

	"mashward/cmd/internal/config"
)

// Exit codes beside those of files, which are config's.
const (
	exitOK     = 0
	exitShort  = 1
	exitUsage  = 64
	exitDevice = 69
	exitBug    = 70
)

// command is one sub-command.
type command struct {
	name, line string
	run        func(c *call) error
}

// call is what a sub-command works with.
type call struct {
	args   []string
	in     io.Reader
	out    io.Writer
	err    io.Writer
	colour bool // out is a terminal that takes control sequences
}

func commands() []command {
	return []command{
		{"demo", "watch a simulated brew day in this terminal", runDemo},
		{"serve", "run the loop as a daemon and serve its page", runServe},
		{"element-off", "switch the element off, without a daemon or a rig", runElementOff},
		{"plan", "work out the day before the kettle is filled", runPlan},
		{"water", "write a profile of water only: by hand, to clean, or a brew to try", runWater},
		{"gravity", "correct a reading of gravity, and say what meets the plan's", runGravity},
		{"dryrun", "rehearse a profile on a simulated kettle", runDryrun},
		{"tune", "find out about a kettle by a test with water", runTune},
		{"record", "list, show, compare, report, bundle, export or replay records", runRecord},
		{"check", "check profile, rig, plant, fault and notify files", runCheck},
		{"notify", "try or show what a notify file sends", runNotify},
		{"tell", "see, answer or stop what a daemon on this computer does", runTell},
	}
}

func main() {
	os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// run is the whole program but for the process.
func run(args []string, in io.Reader, out, errOut io.Writer) (code int) {
	if len(args) == 0 || args[0] == "help" || args[0] == "-h" || args[0] == "--help" {
		help(out)
		if len(args) == 0 {
			return exitUsage
		}
		return exitOK
	}
	if args[0] == "version" || args[0] == "--version" {
		fmt.Fprintln(out, version())
		return exitOK
	}
	if args[0] == keepWord {
		return runKeep(args[1:], in, out, errOut)
	}
	for _, c := range commands() {
		if c.name == args[0] {
			err := c.run(&call{args: args[1:], in: in, out: out, err: errOut, colour: terminal(out)})
			return exitCode(err, errOut)
		}
	}
	fmt.Fprintf(errOut, "mashward: there is no command %q; `mashward help` lists them\n", args[0])
	return exitUsage
}

func help(out io.Writer) {
	fmt.Fprint(out, "mashward carries a brew day in one electric kettle.\n\nUsage: mashward COMMAND [options] [FILE]\n\n")
	for _, c := range commands() {
		fmt.Fprintf(out, "  %-12s%s\n", c.name, c.line)
	}
	fmt.Fprint(out, "\n`mashward COMMAND --help` tells the options. Exit codes: 0 ok, 1 falls short,\n"+
		"64 usage, 65 bad profile, plant or faults, 66 file missing, 69 device unavailable,\n"+
		"78 bad rig, tuning or notify file.\n")
}

// exit is an error with its exit code; an empty text prints nothing.
type exit struct {
	code int
	text string
}

func (e *exit) Error() string { return e.text }

// usage is a wrong call.
func usage(format string, args ...any) error {
	return &exit{exitUsage, fmt.Sprintf(format, args...)}
}

// exitCode prints an error once and tells the code to leave with.
func exitCode(err error, errOut io.Writer) int {
	if err == nil {
		return exitOK
	}
	var e *exit
	var f *config.Failure
	switch {
	case errors.As(err, &e):
		if e.text != "" {
			fmt.Fprintln(errOut, "mashward: "+e.text)
		}
		return e.code
	case errors.As(err, &f):
		fmt.Fprintln(errOut, f.Error())
		return f.Code
	case errors.Is(err, os.ErrNotExist):
		fmt.Fprintln(errOut, "mashward: "+err.Error())
		return config.ExitMissing
	case errors.Is(err, os.ErrPermission):
		fmt.Fprintln(errOut, "mashward: "+err.Error())
		return config.ExitPermission
	}
	fmt.Fprintln(errOut, "mashward: "+err.Error())
	return config.ExitIO
}
