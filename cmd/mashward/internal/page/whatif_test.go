package page

import (
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"mashward/controller"
	"mashward/profile"
)

// TestAChangeIsLookedAtThenMade: asking shows what comes of it and changes nothing; the
// button below makes it; and a page that is older than the kettle makes nothing.
func TestAChangeIsLookedAtThenMade(t *testing.T) {
	b := newBench(t)
	if status, _ := b.get("/what-if"); status != http.StatusSeeOther {
		t.Errorf("without a batch: %d", status)
	}
	b.begin("rye-four-rests")
	b.stage(profile.Strike, controller.Heat)
	_, now := b.get("/")
	holds(t, now, `href="/what-if"`, `id="finish"`)
	_, form := b.get("/what-if?unit=F")
	holds(t, form, `value="extend"`, `value="retarget"`, `value="added"`, "in °F", `<option value="2">2: `, "Nothing is changed by asking")
	lacks(t, form, `value="skip"`, `name="do"`, `<option value="0">`, "http-equiv") // strike water is not skipped

	id := b.daemon.Latest().Batch.ID
	ask := func(pairs ...string) (to, body string) {
		t.Helper()
		d := b.daemon.Latest().Decision
		all := append([]string{"batch", id, "step", strconv.Itoa(int(d.Index)), "told", strconv.FormatUint(uint64(d.Deeds), 10)}, pairs...)
		_, to, body = b.post("/what-if", all...)
		return to, body
	}
	_, body := ask("wish", "extend", "of", "2", "minutes", "12")
	holds(t, body, "Step 2 lasts 12 min longer", "12 min later: finish about", `name="do"`, `name="minutes" value="12"`, "Then you are needed", "Lift the grain", "Beta-amylase left")
	_, body = ask("wish", "extend", "of", "2", "minutes", "-3")
	holds(t, body, "Step 2 lasts 3 min shorter")
	_, body = ask("wish", "retarget", "of", "2", "warm", "90")
	holds(t, body, "It would be refused: that is hotter than the hottest that was armed")
	lacks(t, body, `name="do"`)
	_, body = ask("wish", "added", "litres", "2", "warm", "12")
	holds(t, body, "It is in", "scald", "later: finish about")
	if to, _ := ask("wish", "stop"); to != "/?said="+codeWhat {
		t.Error(to)
	}
	if to, _ := ask("wish", "pause"); to != "/?said="+codeWhat {
		t.Error(to)
	}
	if at := b.daemon.Latest().Decision; at.Deeds != 0 || at.Index != 0 {
		t.Errorf("asking has done something: %+v", at)
	}
	if _, to, _ := b.post("/what-if", "batch", id, "step", "3", "told", "0", "wish", "retarget", "of", "2", "warm", "60", "do", "yes"); to != "/?said="+codeOld {
		t.Errorf("from an old page: %s", to)
	}
	if to, _ := ask("wish", "extend", "of", "2", "minutes", "12", "do", "yes"); to != "/?said="+codeChanged {
		t.Error(to)
	}
	if to, _ := ask("wish", "retarget", "of", "2", "warm", "61,5", "do", "yes"); to != "/?said="+didCode(controller.Retarget) {
		t.Error(to)
	}
	if to, _ := ask("wish", "retarget", "of", "2", "warm", "90", "do", "yes"); to != "/?said="+noCode(controller.HotterThanArmed) {
		t.Error(to)
	}
	_, now = b.get("/")
	holds(t, now, "Step 2 is to be at 61.5")
}

// The button that makes a step longer shows what comes of it before it is made.
func TestAStepIsMadeLongerAfterALookAtWhatComesOfIt(t *testing.T) {
	b := inTheRest(t, speed(1))
	_, page := b.get("/")
	part := regexp.MustCompile(`(?s)<form class="controls".*?</form>`).FindString(page)
	if !regexp.MustCompile(`value="extend" formaction="/what-if"`).MatchString(part) {
		t.Fatal(part)
	}
	fields := []string{"wish", "extend"}
	for _, f := range regexp.MustCompile(`name="([a-z]+)" value="([^"]*)"(?: class="step"| id="told")?>`).FindAllStringSubmatch(part, -1) {
		fields = append(fields, f[1], f[2])
	}
	left := b.daemon.Latest().Decision.Left
	status, _, body := b.post("/what-if", fields...)
	if status != http.StatusOK || !strings.Contains(body, "lasts 5 min longer") || !strings.Contains(body, `name="do" value="yes"`) {
		t.Fatalf("%d %v %s", status, fields, body)
	}
	if now := b.daemon.Latest().Decision.Left; now > left {
		t.Errorf("%v were left, and now %v: a look has changed it", left, now)
	}
}
