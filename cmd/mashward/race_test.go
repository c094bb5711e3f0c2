//go:build race

package main

// everyClock is tried: not under the race detector.
const everyClock = false
