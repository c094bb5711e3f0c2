package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const samples = "../../testdata/"

// The sample brew and the kettles it is tried on.
const (
	brew = samples + "profiles/rye-four-rests.yaml"
	yard = samples + "rigs/yard-kettle.yaml"
	pot  = samples + "rigs/small-pot.yaml"
	bad  = samples + "bad/"
)

// answer is what a call left behind.
type answer struct {
	code     int
	out, err string
}

// mashward calls the program without a process of its own.
func mashward(args ...string) answer {
	var out, errOut bytes.Buffer
	code := run(args, strings.NewReader(""), &out, &errOut)
	return answer{code, out.String(), errOut.String()}
}

// file writes a file of a test and returns its path.
func file(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}
