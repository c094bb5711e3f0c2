package config

import (
	"fmt"
	"strings"

	"mashward/profile/plan"
)

// ScaledHead says in comments, before a scaled profile's text, what it is and where its
// litres go. made is the scaled day, from the name of the profile it is made from.
func ScaledHead(s plan.Scaled, made plan.Plan, rig, from string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "# Scaled from %s for the rig %q.\n", from, rig)
	for _, line := range append(s.Changes, made.Losses()...) {
		fmt.Fprintf(&b, "# %s\n", line)
	}
	return b.String()
}
