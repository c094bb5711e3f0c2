// Package page is what a person sees and presses: pages made on the server,
// which can be read, answered and stopped without any script, and one script
// that keeps them fresh and confesses when it cannot.
//
// It decides nothing about heat. Every press becomes an order to the daemon,
// which may refuse it; STOP goes past every check of this package.
package page
