package main

import (
	"errors"
	"fmt"
	"os"
	"strings"
)

// mutant is one way to break one file.
type mutant struct {
	name     string
	file     string   // from the root of the module
	old, new string   // whole lines
	tests    []string // packages, as go test takes them
	line     int      // of the list
}

// parse reads the list: entries of
//
//	mutant what is broken
//	file   path
//	- a line as it is
//	+ a line in its place
//	test   ./package ./another
//
// Lines of "-" and "+" may be several; no "+" takes the lines out. "#" begins a
// comment.
func parse(text string) ([]mutant, error) {
	var all []mutant
	for n, line := range strings.Split(text, "\n") {
		if strings.TrimSpace(line) == "" || strings.HasPrefix(line, "#") {
			continue
		}
		word, rest, _ := strings.Cut(line, " ")
		if word == "mutant" {
			all = append(all, mutant{name: strings.TrimSpace(rest), line: n + 1})
			continue
		}
		if len(all) == 0 {
			return nil, fmt.Errorf("line %d: an entry begins with: mutant", n+1)
		}
		m := &all[len(all)-1]
		switch word {
		case "file":
			m.file = strings.TrimSpace(rest)
		case "-":
			m.old += rest + "\n"
		case "+":
			m.new += rest + "\n"
		case "test":
			m.tests = strings.Fields(rest)
		default:
			return nil, fmt.Errorf("line %d: %q is none of mutant, file, -, +, test", n+1, word)
		}
	}
	return all, check(all)
}

// check finds entries that say too little or the same twice.
func check(all []mutant) error {
	seen := map[string]bool{}
	for _, m := range all {
		switch {
		case m.name == "" || m.file == "" || m.old == "" || len(m.tests) == 0:
			return fmt.Errorf("line %d: name, file, a line as it is and a test are needed", m.line)
		case m.old == m.new:
			return fmt.Errorf("line %d: nothing is broken", m.line)
		case seen[m.name] || seen[m.file+m.old+m.new]:
			return fmt.Errorf("line %d: it is there twice", m.line)
		}
		seen[m.name], seen[m.file+m.old+m.new] = true, true
	}
	if len(all) == 0 {
		return errors.New("there is nothing in it")
	}
	return nil
}

// apply is the file with the mutant in it. The lines must stand there exactly once:
// a list that the code has left behind proves nothing.
func (m *mutant) apply() (string, error) {
	text, err := os.ReadFile(m.file)
	if err != nil {
		return "", err
	}
	whole := "\n" + string(text)
	if n := strings.Count(whole, "\n"+m.old); n != 1 {
		return "", fmt.Errorf("list.txt, line %d: these lines stand %d times in %s, must once; follow the code:\n%s", m.line, n, m.file, m.old)
	}
	return strings.Replace(whole, "\n"+m.old, "\n"+m.new, 1)[1:], nil
}
