// Package invariant says what must hold in every tick of a batch, whatever goes
// wrong: no heat without a fresh reading, none at or above the limit, none but in
// a batch that runs or is paused, a trip that stays until a person clears it, and
// so on. Each is a law with a name.
//
// It is a second opinion. It calls neither the core nor the interlock and knows
// none of their figures: its own stand here with where they come from, and it
// remembers what it has seen by itself. It sees Facts, a projection of one tick;
// where a tick has no interlock, as in a test of the core alone, the laws about it
// are left out.
//
// A law may ask for less than is done (a tick later, a little less steam), never
// for more. One checker serves random states of the interlock, random days of the
// core, the loop on simulated kettles, and records.
package invariant
