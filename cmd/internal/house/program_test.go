package house

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
)

// program is mashward, built and run as a person would, in a folder of its own.
type program struct {
	t            *testing.T
	path, folder string
}

// shared is the program, which is built once for all tests.
var shared struct {
	once   sync.Once
	folder string // whoever runs the tests takes it away
	said   []byte
	err    error
}

// build makes the program, unless it has been made.
func build(t *testing.T) program {
	t.Helper()
	name := func() string { return filepath.Join(shared.folder, "mashward") }
	shared.once.Do(func() {
		if shared.folder, shared.err = os.MkdirTemp("", "mashward-house-"); shared.err != nil {
			return
		}
		cmd := exec.Command("go", "build", "-o", name(), "./cmd/mashward")
		cmd.Dir = top
		shared.said, shared.err = cmd.CombinedOutput()
	})
	if shared.err != nil {
		t.Fatalf("the program does not build: %v\n%s", shared.err, shared.said)
	}
	return program{t, name(), t.TempDir()}
}

// in is the same program for a part of a test, in a folder of its own.
func (p program) in(t *testing.T) program { return program{t, p.path, t.TempDir()} }

// make runs a build as README.md has it, into the program's folder, and the
// program that comes out.
func (p program) make(line string) {
	p.t.Helper()
	quoted := regexp.MustCompile(`"[^"]*"|\S+`)
	words := quoted.FindAllString(line, -1)
	for i := range words {
		words[i] = strings.Trim(words[i], `"`)
	}
	made := filepath.Join(p.folder, "made")
	cmd := exec.Command("go", slices.Concat([]string{"build", "-o", made}, words[2:])...)
	cmd.Dir = top
	if out, err := cmd.CombinedOutput(); err != nil {
		p.t.Errorf("%s: %v\n%s", line, err, out)
		return
	}
	if a := (program{p.t, made, p.folder}).must(0, "version"); a.out == "" {
		p.t.Errorf("%s: it has no version", line)
	}
	if about, err := os.Stat(made); err != nil {
		p.t.Error(err)
	} else if about.Size() > 20<<20 {
		p.t.Errorf("%s: %d bytes", line, about.Size())
	}
}

// answer is what a run left behind.
type answer struct {
	out, err string
	code     int
}

// run runs the program with its output in pipes.
func (p program) run(args ...string) answer {
	p.t.Helper()
	cmd := exec.Command(p.path, args...)
	cmd.Dir = p.folder
	var out, errOut bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errOut
	err := cmd.Run()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		p.t.Fatalf("mashward %s: %v", strings.Join(args, " "), err)
	}
	return answer{out.String(), errOut.String(), cmd.ProcessState.ExitCode()}
}

// must runs it and wants an exit code.
func (p program) must(code int, args ...string) answer {
	p.t.Helper()
	a := p.run(args...)
	if a.code != code {
		p.t.Errorf("mashward %s: exit code %d, not %d\n%s%s", strings.Join(args, " "), a.code, code, a.out, a.err)
	}
	return a
}

// write puts a file into the program's folder and returns its name.
func (p program) write(name, text string) string {
	p.t.Helper()
	if err := os.WriteFile(filepath.Join(p.folder, name), []byte(text), 0o644); err != nil {
		p.t.Fatal(err)
	}
	return name
}

// sample is the full path of a file in testdata.
func sample(t *testing.T, name string) string {
	t.Helper()
	path, err := filepath.Abs(filepath.Join(top, "testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return path
}
