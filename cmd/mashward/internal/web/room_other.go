//go:build !unix

package web

// Room is how many connections may be open at a time.
func Room() int { return MaxConnections }
