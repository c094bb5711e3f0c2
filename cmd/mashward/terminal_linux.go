package main

import (
	"os"
	"syscall"
)

// tcflsh is TCFLSH of asm-generic/ioctls.h, which syscall does not name; 0 is
// TCIFLUSH: what has been received and not been read.
const tcflsh = 0x540B

// forget throws away what was typed into a terminal and not read yet. The error
// says that f is no terminal.
func forget(f *os.File) error {
	if _, _, errno := syscall.Syscall(syscall.SYS_IOCTL, f.Fd(), tcflsh, 0); errno != 0 {
		return errno
	}
	return nil
}
