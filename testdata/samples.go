// Package testdata carries the sample files inside the program, so that the
// demonstration needs no other file.
package testdata

import "embed"

// Samples are the sample profile, rig and plant of the demonstration.
//
//go:embed profiles/rye-four-rests.yaml rigs/yard-kettle.yaml plants/yard-kettle-as-built.yaml
var Samples embed.FS
