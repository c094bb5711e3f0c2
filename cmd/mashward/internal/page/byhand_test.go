package page

import (
	"net/http"
	"testing"

	"mashward/cmd/mashward/internal/daemon"
)

func TestWaterByHandIsReachedFromThePage(t *testing.T) {
	b := newBench(t)
	b.until("a reading", func(s *daemon.Snapshot) bool { return s.Number > 2 })
	_, now := b.get("/")
	holds(t, now, `href="/by-hand"`)
	_, form := b.get("/by-hand")
	holds(t, form, `name="litres"`, `name="warm"`, `name="minutes"`, `name="until"`, `name="cleaning"`, "never to the boil", "after 4 h at the latest")
	for _, wrong := range [][]string{
		{"litres", "", "warm", "60"},
		{"litres", "20", "warm", "hot"},
		{"litres", "20", "warm", "60", "minutes", "long"},
		{"litres", "20", "warm", "60", "until", "noon"},
		{"litres", "20", "warm", "60", "minutes", "300"},
	} {
		status, _, body := b.post("/by-hand", wrong...)
		if status != http.StatusUnprocessableEntity {
			t.Errorf("%v: %d", wrong, status)
		}
		holds(t, body, "Not like this", `value="`+wrong[len(wrong)-1]+`"`)
	}
	status, to, _ := b.post("/by-hand", "litres", "20,5", "warm", "60", "minutes", "30", "cleaning", "yes")
	if status != http.StatusSeeOther || to != "/profile/~cleaning~20500~60000~1800" {
		t.Fatal(status, to)
	}
	_, plan := b.get(to)
	holds(t, plan, "Cleaning: 20.5 L at 60 °C for 30 min", "goggles and gloves", `action="`+to+`/rehearse"`)
	lacks(t, plan, "Water brew")
	b.post(to + "/rehearse")
	_, plan = b.get(to)
	holds(t, plan, "It went through to the end", `href="`+to+`/arm"`)
	_, arm := b.get(to + "/arm")
	holds(t, arm, `name="litres"`, "goggles and gloves")
	lacks(t, arm, `name="ready"`)
	_, near := b.get("/profile/~by-hand~20000~95000~60")
	holds(t, near, "too near to the boil")
}

func TestAWaterBrewIsReachedFromThePlan(t *testing.T) {
	b := newBench(t)
	const to = "/profile/~water-brew~rye-four-rests"
	_, plan := b.get("/profile/rye-four-rests")
	holds(t, plan, `href="`+to+`"`)
	_, brew := b.get(to)
	holds(t, brew, "Water brew: Rye, four rests", "Pour nothing", `action="`+to+`/rehearse"`)
	if status, _ := b.get("/profile/~water-brew~broken"); status != http.StatusUnprocessableEntity {
		t.Error(status)
	}
	if status, _ := b.get("/profile/~water-brew~nowhere"); status != http.StatusNotFound {
		t.Error(status)
	}
}
