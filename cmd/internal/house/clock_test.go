package house

import (
	"slices"
	"testing"
)

// timeOfDay are the names of package time by which a time of day could come in.
var timeOfDay = []string{"Time", "Now", "Date", "Unix", "UnixMilli", "UnixMicro", "Parse", "ParseInLocation", "Local", "UTC", "LoadLocation", "Location"}

// From the probe to the line there is no time of day, not even one handed in: what
// is not there cannot decide. Pure packages have lengths of time only; these shells
// lie on the way and are held to as much.
func TestFromTheProbeToTheLineThereIsNoTimeOfDay(t *testing.T) {
	way := map[string]bool{
		"sensors/sampler": false, "sensors/w1": false, "sensors/ds248x": false, "sensors/sysfs": false, "controller/line": false,
		"controller/line/gpio": false, "controller/line/sysfs": false, "controller/loop": false, "controller/record": false,
		"cmd/internal/learn": false, "cmd/internal/suggest": false,
	}
	for _, s := range house(t) {
		if _, on := way[s.dir]; !on || s.test {
			continue
		}
		way[s.dir] = true
		for name, where := range s.taken("time") {
			if slices.Contains(timeOfDay, name) {
				t.Errorf("%s: time.%s is a time of day", s.at(where), name)
			}
		}
	}
	for path, found := range way {
		if !found {
			t.Errorf("%s is not there", path)
		}
	}
	for _, name := range durations {
		if slices.Contains(timeOfDay, name) {
			t.Errorf("a pure package may take time.%s", name)
		}
	}
}
