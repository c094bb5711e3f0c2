// Command bench compares mashward with what a user could pick instead, on
// random kettles: one table, its method above it, its shortcomings below.
//
//	go run ./cmd/bench [--quick] [--unseen SEED] [--kettles N] [--world N]
//
// Unseen is the first seed of the half that nobody tuned by, kettles how many of
// it there are, world the only part of the table to run. It prints the same for
// the same code. Exit code 0: all goals are met; 1: mashward falls short of one;
// 64: it was called wrongly.
package main

import (
	"bufio"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"runtime"
)

// Exit codes, as the program's own.
const (
	exitShort = 1
	exitUsage = 64
)

// How many kettles of each half, and the seeds they begin with. Constants were
// chosen on the first half; whoever chooses one on the second has to take
// another.
const (
	half       = 60
	quickHalf  = 12
	seenFrom   = 0
	unseenFrom = 170000
)

func main() {
	code, err := bench(os.Args[1:], os.Stdout)
	if err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
	}
	os.Exit(code)
}

// options are what the command line says.
type options struct {
	seen, unseen []uint64
	quick        bool
	worlds       []world
	workers      int
}

func parse(args []string) (options, error) {
	set := flag.NewFlagSet("bench", flag.ContinueOnError)
	set.SetOutput(io.Discard)
	quick := set.Bool("quick", false, "")
	first := set.Uint64("unseen", unseenFrom, "")
	many := set.Int("kettles", half, "")
	only := set.Int("world", 0, "")
	all := worlds()
	err := set.Parse(args)
	switch {
	case err == nil && set.NArg() > 0:
		err = fmt.Errorf("unknown word %q", set.Arg(0))
	case err == nil && (*only < 0 || *only > len(all)):
		err = fmt.Errorf("there is no world %d", *only)
	case err == nil && (*many < 1 || *many > 100000):
		err = fmt.Errorf("%d kettles cannot be compared", *many)
	case err == nil && *first < seenFrom+half:
		err = fmt.Errorf("seed %d is one of those seen", *first)
	}
	if err != nil {
		return options{}, fmt.Errorf("%w; write bench [--quick] [--unseen SEED from %d on] [--kettles 1 to 100000] [--world 1 to %d]", err, seenFrom+half, len(all))
	}
	n := *many
	if *quick {
		n = min(n, quickHalf)
	}
	if *only > 0 {
		all = all[*only-1 : *only]
	}
	return options{seen: seeds(seenFrom, min(n, half)), unseen: seeds(*first, n), quick: *quick, worlds: all, workers: runtime.GOMAXPROCS(0)}, nil
}

func seeds(from uint64, n int) []uint64 {
	s := make([]uint64, n)
	for i := range s {
		s[i] = from + uint64(i)
	}
	return s
}

// bench runs and prints everything.
func bench(args []string, out io.Writer) (int, error) {
	o, err := parse(args)
	if err != nil {
		return exitUsage, err
	}
	w := bufio.NewWriter(out)
	defer w.Flush()
	method(w, o)
	w.Flush() // the rest takes minutes
	r := run(o)
	table(w, r)
	short := goals(w, r)
	beaten(w, r)
	for _, t := range r.troubles() {
		short = true
		fmt.Fprintln(w, t)
	}
	if err := w.Flush(); err != nil {
		return exitShort, err
	}
	if short {
		return exitShort, errors.New("mashward falls short of a goal: see above")
	}
	return 0, nil
}
