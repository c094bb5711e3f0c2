package main

import (
	"fmt"
	"strings"

	"mashward/cmd/internal/suggest"
	"mashward/cmd/internal/wort"
	"mashward/controller/record"
)

// wortOf follows extract and water of a record; nil where the file cannot be read:
// that is said elsewhere.
func wortOf(path string) *wort.Follower {
	var f *wort.Follower
	err := withRecord(path, func(r *record.Reader) (err error) {
		f, err = wort.Of(r)
		return err
	})
	if err != nil {
		return nil
	}
	return f
}

// wortText is where the wort of a record came to, for a person.
func wortText(f *wort.Follower) string {
	var b strings.Builder
	if lines := f.Expect().Lines(); len(lines) > 0 {
		fmt.Fprintf(&b, "\nGravity and volume, %s\n  %s\n", wort.Note, strings.Join(lines, "\n  "))
	}
	for _, text := range suggest.Advise(f) {
		fmt.Fprintf(&b, "\n%s\nNothing has been changed.\n", text)
	}
	return b.String()
}
