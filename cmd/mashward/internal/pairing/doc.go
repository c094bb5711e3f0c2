// Package pairing decides who may come in from beyond this machine.
//
// Whoever is at this machine itself may do everything, as he could at its
// keyboard. From beyond it a phone has to be paired first: a code is shown on
// this machine, once and for ten minutes; the phone that brings it gets a token
// of 256 bits, of which only a hash is kept here. There is no password. Whoever
// is not paired sees how to pair, and may press STOP: off is the safe direction,
// needs no token and waits for nothing, also not for anything in this package.
//
// Nothing here knows the kettle.
package pairing
