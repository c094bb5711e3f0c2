// Package daemon keeps one kettle: it runs the loop for as long as the process
// lives, idle or with a batch, takes orders from people one a tick, and shows
// what is so as immutable snapshots that nobody has to lock.
//
// Whoever talks to people (API, page, terminal) uses three things only: Latest,
// the orders, and Stop. Stop takes heat and pump away at once, from any
// goroutine, before anything is asked or written.
package daemon
