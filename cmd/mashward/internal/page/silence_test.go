package page

import (
	"context"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
	"mashward/profile"
)

// Limits of a silent page (house rule): words within 6 s, true again 2 s after
// the news are back.
const (
	confesses = 6 * time.Second
	recovers  = 2 * time.Second
)

const (
	isStale = "document.querySelector('main.stale') && !document.getElementById('stale').hidden && " +
		"/No news for \\d+ s: do not trust these numbers/.test(document.getElementById('stale').textContent) && " +
		"[...document.querySelectorAll('[data-changes]')].every(b => b.disabled) && " +
		"document.getElementById('heat').textContent === '" + heatUnknown + "' && " +
		"document.getElementById('pump').textContent === 'the pump may run' && !document.getElementById('hot').hidden && " +
		"getComputedStyle(document.getElementById('heat')).textDecorationLine === 'none'"
	isFresh = "!document.querySelector('main.stale') && document.getElementById('stale').hidden && " +
		"![...document.querySelectorAll('[data-changes]')].some(b => b.disabled) && " +
		"document.getElementById('heat').textContent !== '" + heatUnknown + "'"
	stopWorks = "document.querySelector('#stop button').disabled === false"
)

// A machine that is busy with other tests may be late by itself: the page has
// three tries to be in time.
func TestAPageWithoutNewsSaysSoAndIsTrueAgainAtOnce(t *testing.T) {
	b := newBench(t, speed(1))
	b.begin("rye-four-rests")
	b.stage(profile.Strike, controller.Ready)
	server := b.listen("")
	address := server.Listener.Addr().String()
	tab := newBrowser(t)
	tab.do(chromedp.Navigate("http://" + address))
	tab.becomes(isFresh)
	for try := 1; ; try++ {
		shut(server)
		killed := time.Now()
		tab.becomes(isStale)
		silent := time.Since(killed)
		tab.becomes(stopWorks)
		if got := ask[string](tab, "getComputedStyle(document.getElementById('figure')).textDecorationLine"); got != "line-through" {
			t.Errorf("the old figure is drawn with %q", got)
		}
		if try == 1 {
			tab.hold()
			tab.reads("STOP has not reached the kettle. Switch it off at the breaker, now.")
		}
		tab.becomes(`/No news for (9|1\d) s/.test(document.getElementById('stale').textContent)`) // long gone, so that it comes back at any moment
		server = b.listen(address)
		back := time.Now()
		tab.becomes(isFresh)
		again := time.Since(back)
		t.Logf("words after %.1f s, true again after %.1f s", silent.Seconds(), again.Seconds())
		if silent <= confesses && again <= recovers {
			break
		}
		if try == 3 {
			t.Errorf("words after %v (at most %v), true again after %v (at most %v)", silent, confesses, again, recovers)
			break
		}
	}
	t.Cleanup(func() { shut(server) })
	tab.becomes("document.getElementById('figure').textContent === '45.8' && !document.title.includes('No news')")
}

func TestAServerThatRepeatsItselfIsNoNews(t *testing.T) {
	b := newBench(t, speed(1))
	b.begin("rye-four-rests")
	server := b.listen("")
	t.Cleanup(func() { shut(server) })
	tab := newBrowser(t)
	tab.do(chromedp.Navigate(server.URL))
	tab.becomes(isFresh)
	b.pot.frozen.Lock()
	tab.becomes(isStale)
	tab.becomes(stopWorks)
	b.pot.frozen.Unlock()
	tab.becomes(isFresh)
}

func TestAHiddenPageListensToNothing(t *testing.T) {
	b := newBench(t, speed(1))
	server := b.listen("")
	t.Cleanup(func() { shut(server) })
	tab := newBrowser(t)
	tab.do(chromedp.Navigate(server.URL))
	hide := func(hidden string) {
		ask[bool](tab, "Object.defineProperty(document, 'hidden', {configurable: true, get: () => "+hidden+"}), document.dispatchEvent(new Event('visibilitychange'))")
	}
	clients := func(n int) {
		t.Helper()
		if !eventually(patient, func() bool { return b.api.Clients() == n }) {
			t.Fatalf("%d listen, not %d", b.api.Clients(), n)
		}
	}
	clients(1)
	hide("true")
	clients(0)
	hide("false")
	clients(1)
	tab.becomes(isFresh)
	tab.do(chromedp.Navigate(server.URL + "/records"))
	clients(0)
}

// A phone wakes up with the figures of an hour ago: they are not to be trusted at once,
// and true again 2 s later. Of its two clocks one has stood still.
func TestAPhoneThatWakesUpSaysThatItHasSleptAndIsTrueAgainAtOnce(t *testing.T) {
	b := newBench(t, speed(1))
	b.begin("rye-four-rests")
	server := b.listen("")
	t.Cleanup(func() { shut(server) })
	tab := newBrowser(t)
	tab.do(chromedp.Navigate(server.URL))
	tab.becomes(isFresh)
	for _, how := range []string{
		"document.dispatchEvent(new Event('visibilitychange'))",
		"dispatchEvent(new PageTransitionEvent('pageshow', {persisted: true}))",
	} {
		for try := 1; ; try++ {
			again := wakes(t, b, tab, how)
			t.Logf("%s: true again after %.1f s", how, again.Seconds())
			if again <= recovers {
				break
			}
			if try == 3 {
				t.Errorf("true again after %v (at most %v)", again, recovers)
				break
			}
		}
	}
}

// wakes lets a page sleep for ten minutes of its kettle and an hour of its own clock, wakes
// it, and tells how long it took to be true again.
func wakes(t *testing.T, b *bench, tab *browser, how string) time.Duration {
	t.Helper()
	ask[bool](tab, "Object.defineProperty(document, 'hidden', {configurable: true, get: () => true}), document.dispatchEvent(new Event('visibilitychange'))")
	if !eventually(patient, func() bool { return b.api.Clients() == 0 }) {
		t.Fatal("it listens in its sleep")
	}
	before := b.daemon.Latest().Number
	b.until("ten minutes later", func(s *daemon.Snapshot) bool { return s.Number > before+600 })
	if !ask[bool](tab, "(() => { const now = Date.now; Date.now = () => now() + 3600e3; delete document.hidden; "+how+"; return Boolean("+isStale+") })()") {
		t.Errorf("%s: it believes what it knew before", how)
	}
	woke := time.Now()
	tab.becomes(isFresh)
	return time.Since(woke)
}

func TestWithoutAScriptPromptsAndStopWork(t *testing.T) {
	b := newBench(t)
	b.begin("rye-four-rests")
	b.stage(profile.Strike, controller.Ready)
	server := b.listen("")
	t.Cleanup(func() { shut(server) })
	tab := newBrowser(t)
	tab.do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
		return err
	}), chromedp.Navigate(server.URL))
	tab.reads("When you pour the 4.60 kg of grain, say so")
	tab.becomes("document.querySelector('meta[http-equiv=refresh]')")
	tab.click("#prompt-button")
	tab.reads("Stir the grain in without lumps")
	if p := b.daemon.Latest().Decision.Prompt; p != controller.AskGrainIn {
		t.Errorf("the kettle asks %s", p)
	}
	tab.click("#stop button")
	tab.reads("Stopped. " + stoppedWords)
	if m := b.daemon.Latest().Decision.Mode; m != controller.Held {
		t.Errorf("after STOP the batch is %s", m)
	}
	if n := b.api.Clients(); n != 0 {
		t.Errorf("a page without a script listens: %d", n)
	}
}

func TestTheScriptStopsToo(t *testing.T) {
	b := newBench(t)
	b.begin("rye-four-rests")
	server := b.listen("")
	t.Cleanup(func() { shut(server) })
	tab := newBrowser(t)
	tab.do(chromedp.Navigate(server.URL + "/records"))
	tab.hold()
	tab.reads("Stopped. " + stoppedWords)
	if m := b.daemon.Latest().Decision.Mode; m != controller.Held {
		t.Errorf("after STOP the batch is %s", m)
	}
}

func TestHostileWordsAreShownAndNotObeyed(t *testing.T) {
	b := newBench(t)
	b.begin("hostile")
	server := b.listen("")
	t.Cleanup(func() { shut(server) })
	tab := newBrowser(t)
	n := tab.listen()
	tab.do(chromedp.Navigate(server.URL))
	tab.reads(hostile)
	before := b.daemon.Latest().Number
	if !eventually(patient, func() bool { return b.daemon.Latest().Number > before+40 }) {
		t.Fatal("the loop stands")
	}
	for _, path := range []string{"/profile/hostile", "/profile/hostile/arm", "/records", "/"} {
		tab.do(chromedp.Navigate(server.URL + path))
		tab.reads(hostile)
		if ask[bool](tab, "document.title.includes('taken') || document.querySelector('img') !== null") {
			t.Errorf("%s obeys the profile's name", path)
		}
	}
	n.judge(t, strings.TrimPrefix(server.URL, "http://"))
}

func TestScriptAndServerTurnTemperaturesAlike(t *testing.T) {
	script, err := os.ReadFile("static/page.js")
	if err != nil {
		t.Fatal(err)
	}
	part := regexp.MustCompile(`(?s)const turned = .*?\n  };\n  const words = .*?\n  };\n`).FindString(string(script))
	if part == "" {
		t.Fatal("the script has no such part any more")
	}
	tab := newBrowser(t)
	tab.do(chromedp.Navigate("about:blank"))
	for in, want := range sentences {
		got := ask[string](tab, "(() => { const fahrenheit = true, sign = '°F', degrees = c => c * 9 / 5 + 32;\n"+part+"return words("+quoted(in)+"); })()")
		if got != want {
			t.Errorf("%q became %q, not %q", in, got, want)
		}
	}
}
