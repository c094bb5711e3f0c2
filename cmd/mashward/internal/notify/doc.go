// Package notify tells people who are not at the page what the kettle wants of
// them: one message for each event, said again while nobody answers.
//
// It is a projection of what the daemon publishes, and nothing comes back from it:
// it looks once a second in a goroutine of its own, has one more for each target,
// a queue of fixed length before each, and bounds on everything that a target may
// do. The loop neither calls it nor waits for it. It is a convenience and no layer
// of safety: what protects is done whether or not anybody hears of it.
package notify
