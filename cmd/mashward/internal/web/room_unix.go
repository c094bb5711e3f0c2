//go:build unix

package web

import "syscall"

// Room is how many connections may be open at a time, so that those who visit
// never take the last descriptors: a line whose keeper has died needs some.
func Room() int {
	var limit syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_NOFILE, &limit); err != nil {
		return roomFor(0)
	}
	return roomFor(uint64(limit.Cur))
}
