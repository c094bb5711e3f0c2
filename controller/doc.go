// Package controller is the core: one pure function that carries a batch.
//
//	Step(state, tick) -> (state, decision)
//
// It reads no clock, no file and no pin. Time and readings are arguments,
// decisions are values. The simulator and the kettle call the same function.
//
// Glossary, in the trade's words:
//
//	batch     one brew day in one kettle. Its states follow IEC 61512.
//	step      strike, mash-in, rest, mash-out, lift, boil, stand, chill.
//	stage     where inside a step the batch is: heating up, waiting for a
//	          person, pouring, settling, counting ...
//	phase     the stage in one of six words, for people and metrics.
//	strike    heating the water to the temperature that, when the cold grain
//	          goes in, leaves the mash at its first target.
//	earned    the part of a rest's time that has counted.
//	held      heat and pump are off; a person must look.
//	heat cut  the interlock took the heat away. The core only learns of it.
//
// How a batch moves:
//
//	idle ──start──> running ──last step ends──────────> complete
//	                │  ^  ^ └──end by a person────────> stopped
//	          pause │  │resume
//	                v  │  └──resume──┐
//	               paused            │
//	running, paused ──STOP, trip──> held ──end──> stopped, or aborted
//	running ──nobody came in time──────────────────> aborted
//
// Files: step.go is the tick as a cook would tell it; course.go moves through
// the steps; boil.go is the boil; command.go is what a person may ask; pump.go
// the pump; law.go how much heat; approach.go how a heat-up ends.
package controller
