package rehearse

import (
	"strings"
	"testing"
)

// TestTheFaultTableFailsWrongControllers: one that never heats, with our checks
// and our interlock behind it, and one that always heats without any, fail most
// rows; a row that both pass would show nothing. Left out are the rows of what
// nobody can see: those say what a kettle does, and not what a controller is worth.
func TestTheFaultTableFailsWrongControllers(t *testing.T) {
	all := theKettles(t, 6)
	rows := theTable(t)
	could, failed := 0, map[standIn][]string{}
	for i := range rows {
		row := &rows[i]
		if !row.simulated() || row.expect == unseen && row.off != 0 {
			continue
		}
		could++
		caught := false
		for _, s := range []standIn{idler, stoker} {
			if g := runRow(row, row.first(all, 2), 1, s); g.bad > 0 {
				failed[s] = append(failed[s], row.id)
				caught = true
			}
		}
		if !caught {
			t.Errorf("%s: both pass it: it shows nothing", row.name())
		}
	}
	for s, name := range map[standIn]string{idler: "never heats", stoker: "always heats, no interlock"} {
		t.Logf("%s: fails %d of %d rows: %s", name, len(failed[s]), could, strings.Join(failed[s], " "))
		if 10*len(failed[s]) < 6*could {
			t.Errorf("a controller that %s fails %d of %d rows; want 60 %%", name, len(failed[s]), could)
		}
	}
}

// first are the first n kettles that suit a row.
func (r *tableRow) first(all []proven, n int) (some []proven) {
	for _, p := range all {
		if len(some) < n && r.suits(p, drawOf(r, p, 0)) != nil {
			some = append(some, p)
		}
	}
	return some
}
