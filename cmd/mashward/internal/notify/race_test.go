//go:build race

package notify

// wholeDays are run: not under the race detector, which finds the same in minutes of
// one, and takes ten times as long.
const wholeDays = false
