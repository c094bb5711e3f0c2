//go:build linux

// Command board shows the program on a real kernel with a real controller of
// lines, in an emulator, and watches the relay's line from outside.
//
//	go run ./deploy/board --kernel vmlinuz
//
// It builds the program for 64-bit ARM, puts it into a memory file system with
// itself as the first process, and starts QEMU's board "virt" with it. The lines
// there are those of a PL061, whose driver keeps an output as it was when its
// process dies: the unkind sort. QEMU writes down every edge, with its time.
// What is not shown: another board's driver, its pull-downs, a real probe.
package main

import (
	"errors"
	"flag"
	"fmt"
	"os"
)

func main() {
	if os.Getpid() == 1 {
		inside()
		return
	}
	kernel := flag.String("kernel", "", "`file` with an arm64 kernel that has the driver of the PL061 built in, as Debian's has")
	qemu := flag.String("qemu", "qemu-system-aarch64", "`program` that emulates")
	flag.Parse()
	if *kernel == "" {
		fmt.Fprintln(os.Stderr, "board: which kernel? deploy/board.sh fetches one")
		os.Exit(64)
	}
	failed, err := outside(*kernel, *qemu)
	if err != nil {
		fmt.Fprintln(os.Stderr, "board:", err)
		os.Exit(74)
	}
	if failed {
		os.Exit(1)
	}
}

// The kettle on the board, and its day.
const (
	relayLine = "9030000.pl061:1" // line 3 is the board's power button
	rigText   = `rig: Kettle on a board
kettle: {capacity: 50 L, element_covered_at: 12 L, vessel: 4.1 kJ/K, loss: 7 W/K}
element: {power: 3000 W, relay: {driver: gpio, line: "` + relayLine + `", type: solid-state}}
probe: {driver: sysfs, id: /run/probe, place: outlet, covered_at: 9 L}
`
	dayText = "profile: Warm water\nwater: 25 L\nsteps:\n  - {rest: 60 °C, for: 2 min}\n"
)

// What the inside tells the outside as it happens, each in a line that begins
// with mark.
const (
	mark        = "@@ "
	heats       = "heats"
	killed      = "daemon killed"
	stopped     = "daemon stopped"
	keeperGone  = "keeper killed"
	bothGone    = "both killed"
	elementOff  = "element-off"
	ended       = "end"
	wrongEnding = "wrong: "
)

var errNothing = errors.New("the board told nothing: does this kernel start here?")
