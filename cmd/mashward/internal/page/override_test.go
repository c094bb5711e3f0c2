package page

import (
	"net/http"
	"strings"
	"testing"

	"mashward/controller"
)

// TestABrokenPromiseIsShownAndArmedByACheckbox, which only such a day has.
func TestABrokenPromiseIsShownAndArmedByACheckbox(t *testing.T) {
	b := newBench(t)
	b.warm()
	const mash = "profile: Short\nwater: 26 L\ngrain: {mass: 4.6 kg, temperature: 18 °C}\nsteps:\n  - {mash-in: 60 °C, for: 10 min}\n  - {rest: 63 °C, for: 10 min}\n"
	b.write("plain", mash)
	b.write("late", mash+"expect:\n  - {step: 2, never_above: 64 °C}\n  - {done_within: 50 min}\n")
	b.post("/profile/late/rehearse")
	_, page := b.get("/profile/late")
	holds(t, page, "What the profile expects", "Kept: never above 64 °C in step 2 (rest at 63 °C): highest 6", `class="grave">Broken: done within 50 min: took `,
		"and 50 min is expected at most", "/profile/late/arm")
	_, page = b.get("/profile/late/arm")
	holds(t, page, "The rehearsal broke what the profile expects", "done within 50 min: took ", `name="override" value="yes" required>`)
	all := []string{"hash", b.hash("late"), "litres", "26", "bag", "yes", "valve", "yes", "rcd", "yes"}
	status, _, page := b.post("/profile/late/arm", all...)
	if status != http.StatusUnprocessableEntity {
		t.Error(status)
	}
	holds(t, page, "Not armed", "not said below that you arm all the same", `name="override" value="yes" required>`)
	if _, to, _ := b.post("/profile/late/arm", append(all, "override", "yes")...); !strings.HasPrefix(to, "/confirm/") {
		t.Errorf("armed with an override: %q", to)
	} else if _, to, _ = b.post(to); to != "/?said=begun" || b.daemon.Latest().Decision.Mode != controller.Running {
		t.Errorf("begun: %q", to)
	}
	b.post("/profile/plain/rehearse")
	for _, path := range []string{"/profile/plain", "/profile/plain/arm"} {
		if _, page := b.get(path); strings.Contains(page, "the profile expects") || strings.Contains(page, `name="override"`) {
			t.Errorf("%s speaks of promises that there are not", path)
		}
	}
}
