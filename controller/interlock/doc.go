// Package interlock decides whether the heat that is wanted may be switched
// on. It is pure: no clock, no file, no memory but the Guard that is handed in
// and out.
//
// It stands behind the controller and knows nothing of it: no target, no
// filter, no programme, only the raw reading, what is wanted, what the line
// really did, and what a person has declared. It can only take heat away:
// permitted = wanted AND ok, by type.
//
// Two ways of taking heat away:
//
//   - A cut returns the heat by itself when its cause has been gone for
//     QuietFor. It answers what comes and goes: a lost reading, a late tick, a
//     level switch that chatters.
//   - A trip latches. It stays until a person clears it and its cause is gone;
//     a restart does not clear it (Guard.Restarted).
//
// Heat is cut at once and latched only when the cause is grave or persists,
// because protection that cries wolf gets switched off by its owner.
//
// The zero Guard and the zero Limits permit nothing.
package interlock
