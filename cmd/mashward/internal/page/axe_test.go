package page

import (
	"context"
	"os"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
	"mashward/deploy/yardstick"
	"mashward/profile"
)

// needAxe asks for axe-core, which looks for what keeps people out of a page. check.sh
// brings it and names it in MASHWARD_AXE.
func needAxe(t testing.TB) {
	t.Helper()
	if _, err := os.Stat(os.Getenv("MASHWARD_AXE")); err != nil {
		yardstick.Missing(t, "no axe-core: MASHWARD_AXE names no file of it; bash deploy/check.sh --install browser brings it")
	}
}

// looks are what every page is looked at in.
var looks = []struct {
	name, theme   string
	width, height int64
}{
	{"360-light", "light", 360, 780}, {"360-dark", "dark", 360, 780}, {"1280-dark", "dark", 1280, 900}, {"1280-light", "light", 1280, 900},
}

// wear puts on one of the looks. Nothing moves, so that no colour is seen half changed.
func (b *browser) wear(theme string, width, height int64) {
	b.t.Helper()
	b.do(chromedp.EmulateViewport(width, height), chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: theme}, {Name: "prefers-reduced-motion", Value: "reduce"}},
		})
		return err
	}))
}

// found asks axe-core, WCAG 2.2 AA and its own good practice, and names what it found. In
// the dark only colours differ: there it is asked about those alone.
const found = `axe.run(document, {...(matchMedia('(prefers-color-scheme: dark)').matches ? {runOnly: ['color-contrast', 'link-in-text-block']} : {}), iframes: false, preload: false, resultTypes: ['violations'], rules: {'target-size': {enabled: true}}}).then(r => r.violations.map(v =>
  v.id + ': ' + v.help + '\n' + v.nodes.map(n => '    ' + n.target + ' ' + n.html.slice(0, 120) + '\n      ' + n.failureSummary.replaceAll('\n', ' ')).join('\n')).join('\n'))`

// looked says whether anything stands in the way of those who cannot see or point, and
// whether the page fits, in both themes at both widths. Where there is no axe-core a
// test of something else goes on without it.
func (b *browser) looked(what string) {
	b.t.Helper()
	b.fits()
	ask[bool](b, "document.querySelectorAll('details').forEach(d => { d.open = true; }) === undefined")
	script, err := os.ReadFile(os.Getenv("MASHWARD_AXE"))
	if err != nil {
		return
	}
	b.wear("light", 320, 640) // as wide as a large page is that is enlarged fourfold
	b.fits()
	for _, l := range looks {
		b.wear(l.theme, l.width, l.height)
		b.fits()
		text, err := b.violations(string(script))
		if err != nil { // the page was loaded anew in the middle of it, as the kettle went on
			text, err = b.violations(string(script))
		}
		if err != nil {
			b.t.Fatalf("%s, %s: %v", what, l.name, err)
		}
		if text != "" {
			b.t.Errorf("%s, %s:\n%s", what, l.name, text)
		}
	}
	b.wear(looks[0].theme, looks[0].width, looks[0].height)
}

// violations is what axe-core finds in the page as it is now.
func (b *browser) violations(script string) (string, error) {
	ctx, cancel := context.WithTimeout(b.ctx, patient)
	defer cancel()
	if there, err := chromedp.Run(ctx, chromedp.Evaluate[bool]("Boolean(window.axe)")); err != nil || !there {
		if _, err := chromedp.Run(ctx, chromedp.Evaluate[bool](script+"; true")); err != nil {
			return "", err
		}
	}
	return chromedp.Run(ctx, chromedp.Evaluate[string](found, chromedp.EvalAwaitPromise))
}

func TestNothingKeepsAnyoneOutOfAPage(t *testing.T) {
	needAxe(t)
	b := newBench(t)
	server := b.listen("")
	t.Cleanup(func() { shut(server) })
	tab := newBrowser(t)
	look := func(path string) {
		t.Helper()
		tab.do(chromedp.Navigate(server.URL + path))
		tab.looked(path)
	}
	for _, path := range []string{"/by-hand", "/nowhere", "/profile/broken", "/records", "/notifications", "/profiles", "/kettle", "/profile/broken/edit", "/profile/rye-four-rests/scale", "/profile/rye-four-rests/sheet"} {
		look(path)
	}
	b.begin("hostile")
	b.stage(profile.Strike, controller.Ready)
	for _, path := range []string{"/did", "/additions", "/what-if"} {
		look(path)
	}
	b.pot.blind.Store(true)
	b.until("a cut", func(s *daemon.Snapshot) bool { return s.Cut != 0 })
	look("/")
	look("/alarms")
	b.pot.blind.Store(false)
	b.press(controller.Command{Wish: controller.Stop})
	look("/")
	look("/end")
	b.end()
	if !eventually(patient, func() bool { return tab.stale(server.URL) }) {
		t.Error("not stale")
	}
	look("/")

	elsewhere := func(b *bench, paths ...string) {
		t.Helper()
		server := b.listen("")
		t.Cleanup(func() { shut(server) })
		for _, path := range paths {
			tab.do(chromedp.Navigate(server.URL + path))
			tab.looked(path)
		}
	}
	elsewhere(newBench(t, broken), "/")
	off := cutOff(t)
	elsewhere(off, "/", "/go-on", off.twoDays())
}

func (b *browser) stale(address string) bool {
	b.do(chromedp.Navigate(address))
	return ask[bool](b, "!document.getElementById('stale').hidden")
}
