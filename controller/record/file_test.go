package record

import (
	"os"
	"path/filepath"
	"testing"
)

// TestAFileIsReplacedWhole: by the new text, or, where that cannot be stored, not
// at all; nothing else is left in the folder.
func TestAFileIsReplacedWhole(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "latched")
	for _, text := range []string{"a long line of text that was there before\n", "short\n", ""} {
		if err := Replace(path, []byte(text)); err != nil {
			t.Fatal(err)
		}
		if got, err := os.ReadFile(path); err != nil || string(got) != text {
			t.Errorf("it holds %q, %v; want %q", got, err, text)
		}
	}
	if err := Replace(filepath.Join(folder, "no", "folder"), nil); err == nil {
		t.Error("there is no folder, and nobody says so")
	}
	// A folder stands where the file is to go: the old thing stays, the new one goes.
	blocked := filepath.Join(folder, "blocked")
	if err := os.MkdirAll(filepath.Join(blocked, "inside"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := Replace(blocked, []byte("x")); err == nil {
		t.Error("a folder was replaced by a file")
	}
	left, err := os.ReadDir(folder)
	if err != nil || len(left) != 2 {
		t.Errorf("the folder holds %v, %v; want the file and the folder", left, err)
	}
}
