package interlock

import "math/rand/v2"

func newRandom(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 7)) }
