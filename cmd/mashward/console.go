package main

import (
	"bufio"
	"fmt"
	"os"
	"strings"
)

const consoleHelp = "Type what you have done, such as pouring-now, and Enter; Enter alone says how it stands; stop is STOP.\n"

// console takes wishes that are typed where the daemon was started, as `mashward
// tell` does: with the phone dead and the network gone there is still the terminal.
// Only one with a person at it is read: a pipe answers nothing, and what was typed
// before the daemon stood there is thrown away. It does not return before the
// terminal ends or the program goes into the background.
func (c *call) console(at string) {
	in, ok := c.in.(*os.File)
	if !ok || behind(in) || forget(in) != nil {
		return
	}
	fmt.Fprint(c.err, consoleHelp)
	lines := bufio.NewScanner(in)
	for lines.Scan() {
		said := &call{args: append([]string{"--at", at}, strings.Fields(lines.Text())...), out: c.err, err: c.err}
		exitCode(runTell(said), c.err) // it says why
	}
}
