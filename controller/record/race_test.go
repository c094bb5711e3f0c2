//go:build race

package record

// everyNth moment is tried: the race detector makes a campaign, which has no
// goroutines but those that wrote, ten times slower.
const everyNth = 12
