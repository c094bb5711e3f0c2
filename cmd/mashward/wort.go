package main

import (
	"fmt"
	"strings"

	"mashward/cmd/internal/account"
	"mashward/cmd/internal/wort"
)

// wortText is where the wort of a batch came to, for a person.
func wortText(a *account.Account) string {
	var b strings.Builder
	if lines := a.Wort.Lines(); len(lines) > 0 {
		fmt.Fprintf(&b, "\nGravity and volume, %s\n  %s\n", wort.Note, strings.Join(lines, "\n  "))
	}
	for _, text := range a.Advice {
		fmt.Fprintf(&b, "\n%s\nNothing has been changed.\n", text)
	}
	return b.String()
}
