package plan

import (
	"strings"
	"testing"
	"time"

	"mashward/profile"
)

// A day that the interlock would end is told before the kettle is filled.
func TestADayThatTheInterlockWouldEndIsTold(t *testing.T) {
	weak := yard()
	weak.Power = 420
	long := rye()
	for i := range long.Steps {
		if long.Steps[i].Kind == profile.Rest {
			long.Steps[i].For = 7 * time.Hour
		}
	}
	for name, row := range map[string]struct {
		profile profile.Profile
		kettle  Kettle
		says    string
	}{"a weak element": {rye(), weak, "without a break"}, "a long day": {long, yard(), "one arming"}} {
		_, problems := Make(row.profile, row.kettle)
		found := false
		for _, p := range problems {
			found = found || strings.Contains(p.What, row.says)
		}
		if !found {
			t.Errorf("%s: not told %q: %v", name, row.says, problems)
		}
	}
	if _, problems := Make(rye(), yard()); Refused(problems) {
		t.Errorf("the sample is refused: %v", problems)
	}
}
