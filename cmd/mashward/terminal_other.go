//go:build !linux

package main

import (
	"errors"
	"os"
)

// forget is for real kettles, which are driven on Linux only.
func forget(*os.File) error { return errors.New("no terminal can be asked on this system") }

// behind: no terminal is read on this system.
func behind(*os.File) bool { return true }
