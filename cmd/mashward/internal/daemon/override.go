package daemon

import (
	"strings"

	"mashward/cmd/internal/rehearse"
)

// Unkept says that the last rehearsal broke what the profile expects, and that
// nobody has said to arm all the same.
type Unkept struct{ Broken []string }

// Error says what was broken, and what to do.
func (u *Unkept) Error() string {
	return "the last rehearsal broke what the profile expects (" + strings.Join(u.Broken, "; ") + "): change profile or kettle and rehearse again, or say that it is to be armed all the same"
}

// BrokenBy are the promises that a rehearsal did not keep, in words.
func BrokenBy(r rehearse.Result) []string {
	var all []string
	for _, e := range r.Broken() {
		all = append(all, e.String())
	}
	return all
}

// noteOverride writes down what was overridden at arming, where a person looks
// during the batch and where it is looked up after it.
func (d *Daemon) noteOverride(b *Batch) {
	for _, broken := range b.Overridden {
		text := "Armed all the same, although its rehearsal broke a promise: " + broken + "."
		if b.recorder != nil {
			b.recorder.Note(text)
		}
		d.tell(Entry{Wall: d.o.Now(), Text: text})
	}
}
