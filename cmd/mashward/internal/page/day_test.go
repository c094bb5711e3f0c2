package page

import (
	"context"
	"net/url"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
)

// notes are what a browser asked for and complained of.
type notes struct {
	mu       sync.Mutex
	asked    []string
	troubles []string
}

// listen notes requests and complaints from now on.
func (b *browser) listen() *notes {
	b.t.Helper()
	n := &notes{}
	if err := chromedp.Listen(b.ctx, n.take); err != nil {
		b.t.Fatal(err)
	}
	b.do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, network.Enable, network.EnableParams{})
		return err
	}))
	return n
}

func (n *notes) take(ev any) {
	n.mu.Lock()
	defer n.mu.Unlock()
	switch e := ev.(type) {
	case *network.EventRequestWillBeSent:
		n.asked = append(n.asked, e.Request.URL)
	case *runtime.EventExceptionThrown:
		n.troubles = append(n.troubles, e.ExceptionDetails.Text)
	case *log.EventEntryAdded:
		if e.Entry.Level == log.EntryLevelError || e.Entry.Level == log.EntryLevelWarning {
			n.troubles = append(n.troubles, e.Entry.Text+" "+e.Entry.URL)
		}
	}
}

// judge demands that only our own host was asked, and nothing complained of.
func (n *notes) judge(t *testing.T, ours string) {
	t.Helper()
	n.mu.Lock()
	defer n.mu.Unlock()
	if len(n.asked) < 10 {
		t.Errorf("only %d requests were seen", len(n.asked))
	}
	for _, a := range n.asked {
		if u, err := url.Parse(a); err != nil || u.Scheme != "data" && u.Host != ours {
			t.Errorf("another host was asked: %s", a)
		}
	}
	for _, trouble := range n.troubles {
		t.Errorf("the browser complains: %s", trouble)
	}
}

// fits demands that nothing has to be scrolled sideways.
func (b *browser) fits() {
	b.t.Helper()
	if over := ask[float64](b, "document.documentElement.scrollWidth - innerWidth"); over > 0 {
		b.t.Errorf("%v px too wide at %v\n%s", over, ask[float64](b, "innerWidth"), b.text())
	}
}

func (b *browser) click(selector string) {
	b.t.Helper()
	b.do(chromedp.Click(chromedp.CSS(selector), chromedp.NodeVisible))
}

// asks tells whether a prompt stands that a press answers, or all is over.
func asks(s *daemon.Snapshot) bool {
	return s.Decision.Mode.Ended() || say.Button(s.Decision.Prompt) != "" && s.Decision.Prompt != controller.AskCold
}

func TestAWholeBrewDayIsClickedThrough(t *testing.T) {
	b := newBench(t, speed(2))
	b.warm()
	server := b.listen("")
	t.Cleanup(func() { shut(server) })
	tab := newBrowser(t)
	n := tab.listen()
	tab.do(chromedp.EmulateViewport(360, 780), chromedp.Navigate(server.URL))
	tab.armThrough()
	prompts := []string{}
	for range 20 {
		b.until("a prompt, or the end", asks)
		s := b.daemon.Latest()
		if s.Decision.Mode.Ended() {
			break
		}
		prompts = append(prompts, s.Decision.Prompt.String())
		tab.answerPrompt(b, s)
		if s.Decision.Prompt == controller.AskGrainIn {
			tab.pauseSkipAndUndo(b)
		}
	}
	want := []string{"pour", "grain-in", "lift", "bag-clear", "drained", "here-lid-off", "scald-chiller", "chiller-water"}
	if !slices.Equal(prompts, want) {
		t.Errorf("asked %v, not %v", prompts, want)
	}
	if m := b.daemon.Latest().Decision.Mode; m != controller.Complete {
		t.Errorf("the batch is %s", m)
	}
	tab.reads("Finished: all steps are done.")
	tab.reads(notHeating)
	tab.becomes("document.querySelector('#chart svg') && document.querySelector('a[href=\"/profile/rye-four-rests\"]')")
	tab.looked("finished")
	tab.click(`a[href="/records"]`)
	tab.reads("Rye, four rests (simulated)")
	tab.becomes("document.querySelector('a[href$=\"/ticks.csv\"]')")
	n.judge(t, strings.TrimPrefix(server.URL, "http://"))
}

// armThrough goes from the idle page to a batch that has begun.
func (b *browser) armThrough() {
	b.t.Helper()
	b.reads("Idle: nothing is heated.")
	b.becomes("document.title.startsWith('SIMULATED') && document.querySelector('link[rel=icon]').href.endsWith('simulated.svg')")
	b.looked("idle")
	b.click(`a[href="/profile/rye-four-rests"]`)
	b.reads("Before it can be armed it is rehearsed")
	b.fits()
	b.click(`form[action$="/rehearse"] button`)
	b.reads("It went through to the end in 4 h")
	b.looked("rehearsed")
	b.click(`a[href$="/arm"]`)
	b.reads("Before heat: Rye, four rests")
	b.looked("arming")
	b.do(chromedp.SendKeys(chromedp.CSS("#s-litres"), "26,1"))
	for _, name := range []string{"bag", "valve", "rcd"} {
		b.click("input[name=" + name + "]")
	}
	b.click(`.statements button`)
	b.reads("4.60 kg of grain in 26.0 L of water")
	b.looked("confirm")
	b.click(`form[action^="/confirm/"] button`)
	b.reads("The batch has begun.")
}

// answerPrompt waits until the page asks what the kettle asks, and answers it
// by its one button.
func (b *browser) answerPrompt(bench *bench, s *daemon.Snapshot) {
	b.t.Helper()
	p := s.Decision.Prompt
	b.becomes("!document.getElementById('prompt').hidden && document.getElementById('prompt-text').textContent === " + quoted(s.Batch.Say.Prompt(p)) +
		" && document.getElementById('prompt-button').textContent === " + quoted(say.Button(p)))
	b.becomes("document.title.includes('You are needed')")
	if p == controller.AskPour || p == controller.AskDrained { // the others look like the first
		b.looked(p.String())
	}
	b.fits()
	if p == controller.AskDrained {
		b.becomes("document.querySelector('#litres input').value === '22.3'")
		b.do(chromedp.SetValue(chromedp.CSS("#litres input"), "21,8"))
	}
	b.click("#prompt-button")
	if !eventually(patient, func() bool { return bench.daemon.Latest().Decision.Prompt != p }) {
		b.t.Fatalf("%s was answered and still stands\n%s", p, b.text())
	}
	b.becomes("document.getElementById('message') && document.getElementById('message').textContent === " + quoted(done[say.Answer(p)]))
	if v := float64(bench.daemon.Latest().Decision.Volume); p == controller.AskDrained && (v < 21.7 || v > 21.8) {
		b.t.Errorf("21,8 L were typed, and %.2f L arrived", v)
	}
}

// pauseSkipAndUndo presses what is pressed rarely.
func (b *browser) pauseSkipAndUndo(bench *bench) {
	b.t.Helper()
	bench.until("a rest that has earned something", func(s *daemon.Snapshot) bool {
		return s.Decision.Index == 2 && s.Decision.Earned.Minutes() > 5
	})
	in := func(what string, so func(d *controller.Decision) bool) {
		b.t.Helper()
		if !eventually(patient, func() bool { return so(&bench.daemon.Latest().Decision) }) {
			b.t.Fatalf("never %s\n%s", what, b.text())
		}
	}
	b.click("button[value=pause]")
	in("paused", func(d *controller.Decision) bool { return d.Mode == controller.Paused })
	b.reads("Paused in the rest at 63.0 °C")
	b.looked("paused")
	b.click("button[value=resume]")
	in("running", func(d *controller.Decision) bool { return d.Mode == controller.Running })
	b.becomes("!document.querySelector('button[value=skip]').hidden")
	b.click("button[value=skip]")
	in("skipped", func(d *controller.Decision) bool { return d.Index == 3 })
	b.click("button[value=undo-skip]")
	in("taken back", func(d *controller.Decision) bool { return d.Index == 2 })
	b.becomes("document.querySelector('button[value=undo-skip]').hidden")
}
