package testdata

import (
	"bytes"
	"io/fs"
	"os"
	"testing"
)

// TestTheProgramCarriesTheSamplesOfTheFolder: a profile, a rig and a plant, the
// same to the letter as those that people read.
func TestTheProgramCarriesTheSamplesOfTheFolder(t *testing.T) {
	carried := 0
	err := fs.WalkDir(Samples, ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		carried++
		in, err := Samples.ReadFile(path)
		if err != nil {
			return err
		}
		beside, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		if len(in) == 0 || !bytes.Equal(in, beside) {
			t.Errorf("%s: %d bytes are carried, %d stand in the folder, or others", path, len(in), len(beside))
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if carried != 3 {
		t.Errorf("%d samples are carried; want profile, rig and plant", carried)
	}
}
