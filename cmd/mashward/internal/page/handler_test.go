package page

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/view"
	"mashward/controller"
	"mashward/controller/interlock"
	"mashward/profile"
	"mashward/sensors"
)

// holds demands that each of the texts stands on a page.
func holds(t *testing.T, page string, texts ...string) {
	t.Helper()
	for _, text := range texts {
		if !strings.Contains(page, text) {
			t.Errorf("the page does not say %q:\n%s", text, page)
		}
	}
}

func lacks(t *testing.T, page string, texts ...string) {
	t.Helper()
	for _, text := range texts {
		if strings.Contains(page, text) {
			t.Errorf("the page says %q", text)
		}
	}
}

const stopForm = `action="/stop"`

// warm waits for the first reading.
func (b *bench) warm() {
	b.t.Helper()
	b.until("a reading", func(s *daemon.Snapshot) bool { return s.Decision.HasEstimate && s.Cut == 0 })
}

func TestTheIdlePageSaysThatNothingHeatsAndStillIsLive(t *testing.T) {
	b := newBench(t)
	b.warm()
	status, page := b.get("/")
	if status != http.StatusOK {
		t.Fatal(status)
	}
	holds(t, page, "Idle: nothing is heated.", ">"+notHeating+"</p>", stopForm, "SIMULATED", "icon-simulated.svg", "Yard kettle",
		"Rye, four rests", `href="/profile/rye-four-rests"`, `<noscript><meta http-equiv="refresh" content="5;url=/"></noscript>`)
	lacks(t, page, ">HOT")
}

func TestHotIsSaidInWordsAlsoWhenTheBatchHasEnded(t *testing.T) {
	b := newBench(t)
	b.begin("rye-four-rests")
	b.until("46 °C", func(s *daemon.Snapshot) bool { return s.Decision.Filtered > 45.5 })
	_, page := b.get("/")
	holds(t, page, ">HOT 46 °C<")
	if !regexp.MustCompile(`class="on">heating, \d+ % of full power</p>`).MatchString(page) {
		t.Error("the page does not say that it heats:\n", page)
	}
	b.press(controller.Command{Wish: controller.Stop})
	b.press(controller.Command{Wish: controller.End})
	_, page = b.get("/")
	holds(t, page, "Ended by you.", ">"+notHeating+"</p>", "HOT 4", "Another batch", `<svg`)
}

func TestAPageMadeWhileTheLoopIsSilentSaysSo(t *testing.T) {
	b := newBench(t)
	b.begin("rye-four-rests")
	o := b.options
	o.Now = func() time.Time { return time.Now().Add(8 * time.Second) }
	b.handler = New(o)
	_, page := b.get("/")
	holds(t, page, "No news for 8 s: do not trust these numbers.", `class="now stale"`, ">"+heatUnknown+"</p>", ">the pump may run</p>", ">"+treatAsHot+"<", `value="pause" data-changes data-can disabled`, stopForm)
	lacks(t, page, "STOP: heat and pump off</button disabled")
}

func TestABrokenRigFileShowsItsFaultsAndNothingCanBeBegun(t *testing.T) {
	b := newBench(t, broken)
	_, page := b.get("/")
	holds(t, page, "Heat is disabled", "yard-kettle.yaml:2: kettle.capacity: 50 what?", "treat it as hot", stopForm)
	_, page = b.get("/profile/rye-four-rests")
	holds(t, page, "Heat is disabled")
	lacks(t, page, "/rehearse")
	if status, to, _ := b.post("/profile/rye-four-rests/arm", "litres", "26", "bag", "yes", "valve", "yes", "rcd", "yes"); status != http.StatusSeeOther || to != "/profile/rye-four-rests" {
		t.Errorf("arming led to %d %q", status, to)
	}
	if _, to, _ := b.post("/stop"); to != "/?said=stop-idle" {
		t.Errorf("stop led to %q", to)
	}
}

func TestAProfileThatCannotBeRunSaysWhyAndIsNotRehearsed(t *testing.T) {
	b := newBench(t)
	_, page := b.get("/profile/broken")
	holds(t, page, "This profile cannot be run", "broken.yaml:3")
	lacks(t, page, "/rehearse")
	if status, page := b.get("/profile/nowhere"); status != http.StatusNotFound || !strings.Contains(page, "There is no such profile") {
		t.Error(status, page)
	}
	if status, page := b.get("/nowhere"); status != http.StatusNotFound || !strings.Contains(page, stopForm) {
		t.Error(status, page)
	}
}

func TestArmingDemandsARehearsalAndAllFourStatements(t *testing.T) {
	b := newBench(t)
	b.warm()
	const path = "/profile/rye-four-rests"
	all := []string{"hash", b.hash("rye-four-rests"), "litres", "26,0", "bag", "yes", "valve", "yes", "rcd", "yes"}
	if status, _, page := b.post(path+"/arm", all...); status != http.StatusUnprocessableEntity || !strings.Contains(page, "rehearse it first") {
		t.Fatal(status, page)
	}
	if status, to, _ := b.post(path + "/rehearse"); status != http.StatusSeeOther || to != path {
		t.Fatal(status, to)
	}
	_, page := b.get(path)
	holds(t, page, "It went through to the end in 4 h", "No heat was cut and no alarm was raised.", path+"/arm")
	for i, want := range map[int]string{3: "as a number how many litres", 5: "clear of the element", 7: "hoses are clamped", 9: "RCD"} {
		less := append([]string{}, all...)
		less[i] = ""
		status, _, page := b.post(path+"/arm", less...)
		if status != http.StatusUnprocessableEntity {
			t.Errorf("without %s: %d", less[i-1], status)
		}
		holds(t, page, "Not armed", want)
	}
	status, _, page := b.post(path+"/arm", "hash", all[1], "litres", "24", "bag", "yes", "valve", "yes", "rcd", "yes")
	if status != http.StatusUnprocessableEntity {
		t.Error(status)
	}
	holds(t, page, "needs 26.0 L of water and you state 24.0 L", `value="24"`, `name="rcd" value="yes" required checked`)
	if _, _, page := b.post(path+"/arm", "hash", "of another rig", "litres", "26", "bag", "yes", "valve", "yes", "rcd", "yes"); !strings.Contains(page, "look at the plan again") {
		t.Error(page)
	}
}

func TestHeatTakesTwoStepsAndAnArmingIsGoodOnce(t *testing.T) {
	b := newBench(t)
	b.warm()
	b.post("/profile/rye-four-rests/rehearse")
	_, to, _ := b.post("/profile/rye-four-rests/arm", "hash", b.hash("rye-four-rests"), "litres", "26", "bag", "yes", "valve", "yes", "rcd", "yes")
	if !strings.HasPrefix(to, "/confirm/") {
		t.Fatal(to)
	}
	_, page := b.get(to)
	holds(t, page, "Rye, four rests", "4.60 kg of grain in 26.0 L of water", "First: mash-in at 44.0 °C, 15 min", "Done in 4 h 5 min", "Start heating")
	if s := b.daemon.Latest(); s.Decision.Mode != controller.Idle {
		t.Fatal("armed is not begun, but it is ", s.Decision.Mode)
	}
	if status, page := b.get("/confirm/guessed"); status != http.StatusSeeOther || strings.Contains(page, "Start heating") {
		t.Error("a guessed arming is shown: ", status)
	}
	if status, to, _ := b.post(to); status != http.StatusSeeOther || to != "/?said=begun" {
		t.Fatal(status, to)
	}
	if s := b.daemon.Latest(); s.Decision.Mode != controller.Running {
		t.Fatal(s.Decision.Mode)
	}
	if _, again, _ := b.post(to); again != "/?said=spent" {
		t.Errorf("a second start led to %q", again)
	}
	if _, again, _ := b.post("/confirm/guessed"); again != "/?said=arm-again" {
		t.Errorf("a guessed arming led to %q", again)
	}
	if status, to, _ := b.post("/profile/rye-four-rests/arm", "hash", b.hash("rye-four-rests"), "litres", "26", "bag", "yes", "valve", "yes", "rcd", "yes"); status != http.StatusUnprocessableEntity {
		t.Errorf("a batch was armed during another: %d %q", status, to)
	}
}

func TestStopLooksAtNothingInTheRequest(t *testing.T) {
	b := newBench(t)
	b.warm()
	if _, to, _ := b.post("/stop"); to != "/?said=stop-idle" {
		t.Errorf("idle: %q", to)
	}
	b.begin("rye-four-rests")
	r := httptest.NewRequest("POST", "/stop?wish=start", strings.NewReader("%%%\x00"))
	r.Header.Set("Content-Type", "nonsense")
	w := httptest.NewRecorder()
	b.handler.ServeHTTP(w, r)
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/?said=stop" {
		t.Error(w.Code, w.Header())
	}
	if s := b.daemon.Latest(); s.Decision.Mode != controller.Held {
		t.Error(s.Decision.Mode)
	}
	_, page := b.get("/?said=stop")
	holds(t, page, "Stopped. "+stoppedWords, `href="/end"`)
	if r, err := http.NewRequest("GET", "/stop", nil); err == nil {
		w := httptest.NewRecorder()
		b.handler.ServeHTTP(w, r)
		if w.Code != http.StatusNotFound && w.Code != http.StatusMethodNotAllowed {
			t.Error("a link can stop: ", w.Code)
		}
	}
}

func TestAPressOnAnOldPageDoesNothing(t *testing.T) {
	b := newBench(t)
	b.begin("rye-four-rests")
	b.stage(profile.Strike, controller.Ready)
	id := b.daemon.Latest().Batch.ID
	press := func(pairs ...string) string {
		_, to, _ := b.post("/do", pairs...)
		return strings.TrimPrefix(to, "/?said=")
	}
	for _, c := range []struct{ why, said, want string }{
		{"another batch", press("wish", "pouring-now", "batch", "yesterday", "prompt", "pour"), codeOld},
		{"another prompt", press("wish", "pouring-now", "batch", id, "prompt", "grain-in"), codeOld},
		{"an answer to a later prompt", press("wish", "grain-in", "batch", id, "prompt", "grain-in"), codeOld},
		{"a skip of another step", press("wish", "skip", "batch", id, "step", "5"), codeOld},
		{"no such wish", press("wish", "start", "batch", id), codeWhat},
		{"stop is no wish here", press("wish", "stop", "batch", id), codeWhat},
		{"what the core refuses", press("wish", "resume", "batch", id), noCode(controller.WrongMode)},
		{"the right one", press("wish", "pouring-now", "batch", id, "prompt", "pour"), didCode(controller.PouringNow)},
		{"its second tap", press("wish", "pouring-now", "batch", id, "prompt", "pour"), codeOld},
	} {
		if c.said != c.want {
			t.Errorf("%s: said %q, not %q", c.why, c.said, c.want)
		}
	}
}

func TestASkipCanBeTakenBackForFifteenSeconds(t *testing.T) {
	b := newBench(t)
	b.begin("rye-four-rests")
	b.stage(profile.Strike, controller.Ready)
	b.press(controller.Command{Wish: controller.PouringNow})
	b.press(controller.Command{Wish: controller.GrainIn})
	b.stage(profile.Rest, controller.Heat)
	s := b.daemon.Latest()
	undo := regexp.MustCompile(`value="undo-skip"[^>]*>`)
	if _, page := b.get("/"); !strings.Contains(undo.FindString(page), "hidden") {
		t.Error("nothing was skipped, and the page offers to take it back")
	}
	if _, to, _ := b.post("/do", "wish", "skip", "batch", s.Batch.ID, "step", fmt.Sprint(s.Decision.Index)); to != "/?said="+didCode(controller.Skip) {
		t.Fatal(to)
	}
	if _, page := b.get("/"); strings.Contains(undo.FindString(page), "hidden") {
		t.Error("the page does not offer to take the skip back")
	}
	skipped := b.daemon.Latest().Decision.Clock
	b.until("16 s later", func(s *daemon.Snapshot) bool { return s.Decision.Clock > skipped+controller.UndoWithin })
	if _, page := b.get("/"); !strings.Contains(undo.FindString(page), "hidden") {
		t.Error("the page still offers to take the skip back")
	}
}

func TestOnlySentencesOfOurOwnAreSaid(t *testing.T) {
	b := newBench(t)
	for _, code := range []string{"%3Cb%3Ehello", "did-0", "did-200", "no-0", "no-255", "no-999", "did-", "hello"} {
		if _, page := b.get("/?said=" + code); strings.Contains(page, `id="message"`) {
			t.Errorf("?said=%s says something", code)
		}
	}
	if _, page := b.get("/?said=" + noCode(controller.GrainStillIn)); !strings.Contains(page, "Not done: the grain is still in the kettle") {
		t.Error("a refusal is not said")
	}
}

func TestAChangeOfScaleLeadsNowhereElse(t *testing.T) {
	for from, want := range map[string]string{
		"/": "/", "/records": "/records", "/profile/rye": "/profile/rye", "": "/", "//evil.example": "/", "https://evil.example": "/",
		"/\\evil.example": "/", "/a/../b": "/", "/x?y=1": "/", "/%2f": "/",
	} {
		if got := local(from); got != want {
			t.Errorf("%q leads to %q, not %q", from, got, want)
		}
	}
}

func TestAViewerSeesHisScaleAndNoOther(t *testing.T) {
	b := newBench(t)
	b.warm()
	cookie := &http.Cookie{Name: scaleCookie, Value: "F"}
	for _, path := range []string{"/", "/profile/rye-four-rests"} {
		_, page := b.get(path, cookie)
		holds(t, page, "°F")
		if found := regexp.MustCompile(`\d °C`).FindString(page); found != "" {
			t.Errorf("%s: %q on a page in °F", path, found)
		}
	}
	for _, path := range []string{"/", "/profile/rye-four-rests"} {
		_, page := b.get(path)
		if found := regexp.MustCompile(`\d (K|J|kJ|°F)\b`).FindString(page); found != "" {
			t.Errorf("%s: %q is shown", path, found)
		}
	}
}

func TestMarkupInNamesIsShownAsText(t *testing.T) {
	b := newBench(t)
	b.begin("hostile")
	if err := os.WriteFile(filepath.Join(b.records, "20260101-<b onclick=x()>.batch"), []byte("no record"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"/", "/profile/hostile", "/profile/hostile/arm", "/records", "/strip.svg", "/chart.svg"} {
		_, page := b.get(path)
		lacks(t, page, "<script>document", "<img src=x", "<b onclick")
	}
	_, page := b.get("/records")
	holds(t, page, "This record cannot be read.", "(simulated)", "/ticks.csv")
}

func TestNoPageNeedsWhatThePolicyOfItsContentForbids(t *testing.T) {
	b := newBench(t)
	b.post("/profile/rye-four-rests/rehearse")
	pages := []string{"/profile/rye-four-rests", "/profile/rye-four-rests/arm", "/records", "/nowhere", "/"}
	b.begin("rye-four-rests")
	b.stage(profile.Strike, controller.Ready)
	forbidden := map[string]*regexp.Regexp{
		"a style in an element":   regexp.MustCompile(`<[^>]+\sstyle\s*=|<style`),
		"a script in the page":    regexp.MustCompile(`<script(?:>| [^>]*>[^<])`),
		"a handler in an element": regexp.MustCompile(`<[^>]+\son\w+\s*=`),
		"another host":            regexp.MustCompile(`(?:src|href|action)\s*=\s*"(?:https?:)?//`),
	}
	for _, path := range pages {
		_, page := b.get(path)
		for what, pattern := range forbidden {
			if found := pattern.FindString(page); found != "" {
				t.Errorf("%s has %s: %s", path, what, found)
			}
		}
		holds(t, page, stopForm)
	}
}

func TestAProbeThatWasNeverReadIsKnownByItsName(t *testing.T) {
	if got := sensors.NoReading.String(); got != neverRead {
		t.Errorf("it is called %q, and the page looks for %q", got, neverRead)
	}
	if script, err := staticFiles.ReadFile("static/page.js"); err != nil || !strings.Contains(string(script), "fault === '"+neverRead+"'") {
		t.Error("the script looks for another name", err)
	}
}

func TestEveryRuleAndEveryAnswerHasWordsOfItsOwn(t *testing.T) {
	seen := map[string]interlock.Rule{}
	for _, r := range interlock.Rules() {
		text := view.Cause(r)
		if other, ok := seen[text]; ok || text == view.Cause(interlock.NoRule) {
			t.Errorf("%s has the words of %s: %q", r, other, text)
		}
		seen[text] = r
	}
	for w := controller.PouringNow; w <= controller.ChillDone; w++ {
		if w == controller.Stop || w == controller.TakeUp || w == controller.TakeUpAlone {
			continue
		}
		if done[w] == "" {
			t.Errorf("%s is done and nothing is said", w)
		}
		if wishOf(w.String()) != w {
			t.Errorf("%s cannot be asked for", w)
		}
	}
	for p := controller.AskPour; p <= controller.AskColdest; p++ {
		if say.Button(p) != "" && !answers(say.Answer(p)) {
			t.Errorf("%s has a button that answers nothing", p)
		}
	}
}

// Where a person arms a real element, the page says what hardware must be there.
func TestArmingARealElementSaysWhatHardwareMustDo(t *testing.T) {
	must := []string{"thermal cut-out with manual reset", "contactor in series", "RCD (GFCI)", "pull-down", "emergency stop", "licensed electrician"}
	b := newBench(t, func(o *daemon.Options, _ *pot) { o.Simulated = false })
	b.warm()
	_, page := b.get("/profile/rye-four-rests/arm")
	holds(t, page, append(must, "This heats a real element")...)
	lacks(t, page, "SIMULATED")
	b = newBench(t)
	b.warm()
	_, page = b.get("/profile/rye-four-rests/arm")
	lacks(t, page, "This heats a real element")
}
