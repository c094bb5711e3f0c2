// Package verify finds from the model what no single reading shows: a relay
// that has welded, an element that is open or dry, a pump that has stopped, a
// probe that hangs in the air or has frozen, a kettle that is nearly empty.
//
// A second observer, never adapted and five times as quick to believe in power
// that nobody declared, runs beside the one that the heat law acts on. What it
// cannot explain is taken as a share of full power:
//
//	A = unexplained power / full power
//
// so that a slow kettle and a fast one have the same limits. A of 1 - u while
// little is switched on is a welded relay; A of -1 while all is switched on is
// an element that gives nothing. Beside honest error (another volume, another
// supply, an open lid) stands a dead zone; what goes beyond it is added up, in
// seconds of full power, and found when the sum is too large. Two rules about
// slopes find a probe that has been pulled or touches the element, and one
// about repetition a probe that has frozen.
//
// What a person does is no fault: while he has his hands in the kettle nothing
// is judged, and afterwards the model begins anew.
//
// The package knows no target, no filter and no law. It is pure.
package verify
