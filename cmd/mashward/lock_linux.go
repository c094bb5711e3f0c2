package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
)

// lockFile is held, in the folder of the state, by the daemon that uses it.
const lockFile = "lock"

// lockState makes sure that no other daemon goes on with the same batch. The kernel
// takes the lock away when the process is gone, however it went; keepers do not
// inherit it. The file stays.
func lockState(state string) (unlock func(), err error) {
	path := filepath.Join(state, lockFile)
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, err
	}
	err = syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if err == nil {
		return func() { f.Close() }, nil
	}
	err = errors.Join(err, f.Close())
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return nil, &exit{exitDevice, fmt.Sprintf("another mashward runs with the folder %s: two must never go on with one batch; end the other first, or name another --state", state)}
	}
	return nil, fmt.Errorf("%s: %w", path, err)
}
