package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/mashward/internal/hardware"
	"mashward/controller/line"
	"mashward/controller/record"
)

// linesFile is the file in the folder of a daemon's state that names the lines
// it drives, for element-off.
const linesFile = "lines"

// offPatience is how long element-off tries: longer than the lease of a keeper
// that may just be ending.
const offPatience = 5 * time.Second

// keepWord makes this program a keeper. It is for the daemon, which starts it;
// help does not list it.
const keepWord = "keep-line"

// runKeep is `mashward keep-line DRIVER LINE [behind]`.
func runKeep(args []string, in io.Reader, out, errOut io.Writer) int {
	behind := len(args) == 3 && args[2] == hardware.Behind
	if len(args) != 2 && !behind {
		return exitCode(usage("%s is for mashward itself", keepWord), errOut)
	}
	err := hardware.Keep(hardware.Line{Driver: args[0], Name: args[1]}, behind, in, out)
	if errors.Is(err, hardware.ErrNoLine) {
		return exitDevice // the daemon says why
	}
	return exitCode(device(err), errOut)
}

// runElementOff is `mashward element-off`. Nothing is read but one small file,
// and that only if told so.
func runElementOff(c *call) error {
	var state string
	o := newOptions("element-off", "DRIVER LINE | --state DIR",
		"Switches the element off without a daemon and without a rig file: for a service\n"+
			"manager to run when the daemon has ended, however it ended. Name the line as the\n"+
			"rig does, such as sysfs /sys/class/leds/relay/brightness, or the daemon's --state\n"+
			"folder, where it leaves the names of its lines. Off is written at once, also while\n"+
			"a daemon holds the line; then that is an error, for it may switch on again.\n"+
			"Exit codes: 0 off; 64 usage; 66 no such file; 69 no such line, or another process\n"+
			"holds it; 74 it cannot be written; 77 no permission.", c.out)
	o.StringVar(&state, "state", "", "`folder` that the daemon was given with --state")
	if done, err := o.parse(c.args); done || err != nil {
		return err
	}
	lines, err := linesOff(o.words, state)
	if err != nil {
		return err
	}
	var first error
	for i, err := range hardware.Off(lines, offPatience) {
		if err == nil {
			fmt.Fprintf(c.out, "off: %s\n", lines[i])
			continue
		}
		err = device(err)
		if first == nil {
			first = err
			continue
		}
		exitCode(err, c.err) // said too; the first one decides how this ends
	}
	return first
}

// linesOff are the lines that the arguments, or the state folder, name.
func linesOff(words []string, state string) ([]hardware.Line, error) {
	switch {
	case len(words) == 2 && state == "":
		return []hardware.Line{{Driver: words[0], Name: words[1]}}, nil
	case len(words) == 0 && state != "":
	default:
		return nil, usage("element-off: which line? Name driver and line, such as element-off gpio GPIO17, or --state DIR")
	}
	path := filepath.Join(state, linesFile)
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	lines := hardware.ParseLines(string(text))
	if len(lines) == 0 {
		return nil, &exit{exitDevice, path + " names no line; name driver and line instead"}
	}
	return lines, nil
}

// device is an error of a line or probe with its exit code.
func device(err error) error {
	var path *fs.PathError
	switch {
	case err == nil:
		return nil
	case errors.Is(err, fs.ErrPermission):
		return &exit{config.ExitPermission, err.Error() + "; who runs mashward must be allowed to use it"}
	case errors.Is(err, line.ErrTaken), errors.Is(err, fs.ErrNotExist):
		return &exit{exitDevice, err.Error()}
	case errors.As(err, &path):
		return &exit{config.ExitIO, err.Error()}
	}
	return &exit{exitDevice, err.Error()}
}

// writeLines leaves the names of the lines for element-off, whole or not at all.
func writeLines(state string, lines []hardware.Line) error {
	return record.Replace(filepath.Join(state, linesFile), []byte(hardware.FormatLines(lines)))
}
