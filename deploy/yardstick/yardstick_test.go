package yardstick

import (
	"runtime"
	"testing"
)

// told is a test that only notes how it would have ended.
type told struct {
	testing.TB
	how string
}

func (t *told) Helper() {}

func (t *told) Skip(...any) { t.end("skipped") }

func (t *told) Fatal(...any) { t.end("failed") }

func (t *told) end(how string) {
	t.how = how
	runtime.Goexit() // as a real one does
}

// TestWhatIsMissingFailsInCIAlone.
func TestWhatIsMissingFailsInCIAlone(t *testing.T) {
	for ci, want := range map[string]string{"true": "failed", "": "skipped"} {
		t.Setenv("CI", ci)
		one, done := &told{}, make(chan struct{})
		go func() {
			defer close(done)
			Missing(one, "a ruler")
		}()
		<-done
		if one.how != want {
			t.Errorf("CI=%q: it %s; want %s", ci, one.how, want)
		}
	}
}
