package main

import (
	"os"
	"os/signal"
	"syscall"
	"unsafe"
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

// tiocgpgrp is TIOCGPGRP of asm-generic/ioctls.h: who is in the foreground.
const tiocgpgrp = 0x540F

// behind tells whether this program is in the background of its terminal f. From
// then on it is not stopped when it reads there from the background, which the kernel
// would do to it: a read is an error instead. Whoever asks a terminal anything from
// the background is stopped too, and a daemon that holds a kettle must not be. A
// terminal that is not the one it was started from stops nobody.
func behind(f *os.File) bool {
	var group int32
	_, _, errno := syscall.Syscall(syscall.SYS_IOCTL, f.Fd(), tiocgpgrp, uintptr(unsafe.Pointer(&group)))
	if errno == 0 && int(group) != syscall.Getpgrp() {
		return true
	}
	signal.Ignore(syscall.SIGTTIN, syscall.SIGTTOU)
	return false
}
