// Package explore runs a property of a test on random inputs, the same way
// everywhere: by day the same inputs each time, so that a check that fails fails
// again; at night, or with -rapid.seed, others.
package explore

import (
	"flag"
	"fmt"
	"testing"

	"pgregory.net/rapid"
)

// Size is how much is tried.
type Size struct {
	Checks int  // random inputs; a fifth of them with -short
	Steps  int  // of a state machine, on average; 0: 30
	Night  bool // ten times as many, by a seed of their own
}

// Each is how often each state has to be met: 100 times, 1,000 at night.
func (s Size) Each() int {
	if s.Night {
		return 1000
	}
	return 100
}

// Check holds the property on random inputs. A failure names the seed that brings
// it back; nothing is written to the tree.
func Check(t *testing.T, s Size, property func(*rapid.T)) {
	t.Helper()
	set := map[string]string{"rapid.nofailfile": "true", "rapid.checks": fmt.Sprint(s.Checks), "rapid.steps": "30"}
	if s.Steps > 0 {
		set["rapid.steps"] = fmt.Sprint(s.Steps)
	}
	if s.Night {
		set["rapid.checks"] = fmt.Sprint(10 * s.Checks)
	} else if flag.Lookup("rapid.seed").Value.String() == "0" { // 0: a random one
		set["rapid.seed"] = "1"
	}
	if shrink := flag.Lookup("rapid.shrinktime"); shrink.Value.String() == "30s" { // nobody has said how long
		set["rapid.shrinktime"] = "10s"
	}
	for name, value := range set {
		if err := flag.Set(name, value); err != nil {
			t.Fatal(err)
		}
	}
	rapid.Check(t, property)
}
