package controller_test

import "math/rand/v2"

// seeded is a source of chance that is the same in every run.
func seeded(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 0x6d617368)) }
