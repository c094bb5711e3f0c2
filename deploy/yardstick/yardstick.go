// Package yardstick says what becomes of a test whose yardstick is not on this
// machine: a brewer's go on without it and name it, CI's fail.
package yardstick

import (
	"os"
	"testing"
)

// Missing ends a test that needs what is not here; why says what, and what to
// install.
func Missing(t testing.TB, why string) {
	t.Helper()
	if os.Getenv("CI") == "true" {
		t.Fatal("CI leaves nothing out: " + why)
	}
	t.Skip(why)
}
