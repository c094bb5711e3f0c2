// Mutants breaks the code on purpose, one way at a time, and sees whether a test
// notices. The ways are data (list.txt): a file, a text that stands in it once, what
// is put in its place, and the packages whose short tests have to fail. The tree is
// not touched: the compiler is given another file (go test -overlay).
//
//	go run ./deploy/mutants [-part 1/4] [-only WORD] [-list FILE]
//
// A mutant that survives is a missing test, and one that does not compile is a fault
// of the list; both end it with exit code 1.
package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"
)

// atOnce is how many mutants are tried at the same time.
const atOnce = 2

// patience is for how long the tests of one package may run: a mutant may hang.
const patience = "90s"

func main() {
	list := flag.String("list", "deploy/mutants/list.txt", "the mutants")
	part := flag.String("part", "1/1", "of every so many only this one: 2/4 takes the 2nd, 6th, 10th ...")
	only := flag.String("only", "", "only those with this word in their name or file")
	flag.Parse()
	if err := run(*list, *part, *only); err != nil {
		fmt.Fprintln(os.Stderr, "mutants:", err)
		os.Exit(1)
	}
}

func run(list, part, only string) error {
	text, err := os.ReadFile(list)
	if err != nil {
		return err
	}
	all, err := parse(string(text))
	if err != nil {
		return fmt.Errorf("%s: %w", list, err)
	}
	chosen, err := choose(all, part, only)
	if err != nil {
		return err
	}
	scratch, err := os.MkdirTemp("", "mutants")
	if err != nil {
		return err
	}
	defer os.RemoveAll(scratch)
	if err := healthy(chosen); err != nil {
		return err
	}
	began := time.Now()
	ends := try(chosen, scratch)
	bad := 0
	for i, e := range ends {
		fmt.Printf("%-9s %5.1f s  %-62s %s\n", e.how, e.took.Seconds(), chosen[i].name, e.by)
		if e.how != caught {
			bad++
			fmt.Println(e.said)
		}
	}
	fmt.Printf("%d of %d mutants (of %d in the list) caught in %.0f s\n", len(ends)-bad, len(ends), len(all), time.Since(began).Seconds())
	if bad > 0 {
		return fmt.Errorf("%d were not caught", bad)
	}
	return nil
}

// choose is the part of the list that is asked for.
func choose(all []mutant, part, only string) ([]mutant, error) {
	var nth, of int
	if n, err := fmt.Sscanf(part, "%d/%d", &nth, &of); n != 2 || err != nil || nth < 1 || nth > of {
		return nil, fmt.Errorf("-part %s: write the 2nd of every four as 2/4", part)
	}
	var out []mutant
	for i, m := range all {
		if i%of == nth-1 && (strings.Contains(m.name, only) || strings.Contains(m.file, only)) {
			out = append(out, m)
		}
	}
	if len(out) == 0 {
		return nil, errors.New("no such mutant")
	}
	return out, nil
}

// healthy demands that the tests pass before anything is broken, or every mutant
// would seem to be caught.
func healthy(all []mutant) error {
	var packages []string
	for _, m := range all {
		packages = append(packages, m.tests...)
	}
	slices.Sort(packages)
	args := append([]string{"test", "-short"}, slices.Compact(packages)...)
	if out, err := exec.Command("go", args...).CombinedOutput(); err != nil {
		return fmt.Errorf("the tests fail with nothing broken: %w\n%s", err, out)
	}
	return nil
}

// try breaks and tests them all, a few at a time.
func try(all []mutant, scratch string) []end {
	ends := make([]end, len(all))
	var wg sync.WaitGroup
	work := make(chan int)
	for range atOnce {
		wg.Go(func() {
			for i := range work {
				ends[i] = all[i].try(filepath.Join(scratch, fmt.Sprint(i)))
			}
		})
	}
	for i := range all {
		work <- i
	}
	close(work)
	wg.Wait()
	return ends
}

// How a mutant ended.
const (
	caught   = "caught"
	survived = "SURVIVED"
	broken   = "BROKEN"
)

// end is what became of a mutant.
type end struct {
	how  string
	by   string // the first test that failed
	took time.Duration
	said string
}

// try runs the tests over the mutant.
func (m *mutant) try(dir string) end {
	overlay, err := m.overlay(dir)
	if err != nil {
		return end{how: broken, said: err.Error()}
	}
	began := time.Now()
	args := []string{"test", "-overlay", overlay, "-vet=off", "-short", "-failfast", "-count=1", "-timeout", patience}
	c := exec.Command("go", append(args, m.tests...)...)
	// Whoever looks for the shortest way to break a law looks for it elsewhere.
	c.Env = append(os.Environ(), "RAPID_SHRINKTIME=0s")
	out, err := c.CombinedOutput()
	e := judge(out, err)
	e.took = time.Since(began)
	return e
}

var (
	failing = regexp.MustCompile(`(?m)^--- FAIL: (\S+)`)
	hanging = regexp.MustCompile(`(?m)^panic: test timed out[\s\S]*?running tests:\s+(\S+)`)
	unbuilt = regexp.MustCompile(`(?m)^FAIL\t\S+ \[(build|setup) failed\]`)
)

// judge tells from what go test said how a mutant ended.
func judge(out []byte, err error) end {
	said := string(bytes.TrimSpace(out))
	switch {
	case err == nil:
		return end{how: survived}
	case unbuilt.Match(out):
		return end{how: broken, said: said}
	}
	for _, re := range []*regexp.Regexp{failing, hanging} {
		if m := re.FindSubmatch(out); m != nil {
			return end{how: caught, by: string(m[1])}
		}
	}
	return end{how: broken, said: said} // go test failed, and no test did
}

// overlay writes the mutant and the file that tells the compiler of it.
func (m *mutant) overlay(dir string) (string, error) {
	text, err := m.apply()
	if err != nil {
		return "", err
	}
	original, err := filepath.Abs(m.file)
	if err != nil {
		return "", err
	}
	if err := os.Mkdir(dir, 0o755); err != nil {
		return "", err
	}
	instead := filepath.Join(dir, "mutant.go")
	if err := os.WriteFile(instead, []byte(text), 0o644); err != nil {
		return "", err
	}
	said, err := json.Marshal(map[string]map[string]string{"Replace": {original: instead}})
	if err != nil {
		return "", err
	}
	path := filepath.Join(dir, "overlay.json")
	return path, os.WriteFile(path, said, 0o644)
}
