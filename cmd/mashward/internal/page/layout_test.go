package page

import (
	"testing"

	"github.com/chromedp/chromedp"

	"mashward/controller"
	"mashward/profile"
)

// small finds what is too small for a wet finger (48 px) or for old eyes
// (18 px; 16 px in pictures). Links inside a sentence do not count.
const small = `(() => {
  const seen = e => e.getClientRects().length > 0 && !e.closest('.unseen') && getComputedStyle(e).visibility !== 'hidden';
  const out = [];
  for (const e of document.querySelectorAll('button, a.button, nav a, header a, a.row, summary, input:not([type=hidden]), textarea, select')) {
    const r = e.getBoundingClientRect();
    if (seen(e) && (r.height < 47.5 || r.width < 40)) out.push('target ' + e.outerHTML.slice(0, 80) + ' ' + r.width + 'x' + r.height);
  }
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let n; (n = walk.nextNode());) {
    const e = n.parentElement;
    if (!n.textContent.trim() || e.closest('svg, noscript') || !seen(e)) continue;
    if (parseFloat(getComputedStyle(e).fontSize) < 18) out.push('text ' + n.textContent.slice(0, 60));
  }
  for (const e of document.querySelectorAll('svg text')) {
    const svg = e.closest('svg'), k = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
    const size = parseFloat(getComputedStyle(e).fontSize) * k;
    if (seen(e) && size < 16) out.push('letters of ' + size + ' px in a picture: ' + e.textContent);
  }
  return out.join('\n');
})()`

func TestPagesFitAndCanBeHitAtBothWidths(t *testing.T) {
	b := newBench(t)
	b.post("/profile/rye-four-rests/rehearse")
	b.begin("hostile") // a long word in every heading
	b.stage(profile.Strike, controller.Ready)
	server := b.listen("")
	t.Cleanup(func() { shut(server) })
	tab := newBrowser(t)
	look := func(path string) {
		t.Helper()
		for _, width := range []int64{360, 1280} {
			tab.do(chromedp.EmulateViewport(width, 800), chromedp.Navigate(server.URL+path))
			ask[bool](tab, "document.querySelectorAll('details').forEach(d => { d.open = true; }) === undefined")
			tab.fits()
			if what := ask[string](tab, small); what != "" {
				t.Errorf("%s at %d px:\n%s", path, width, what)
			}
			if gap := ask[float64](tab, "innerHeight - document.querySelector('#stop').getBoundingClientRect().bottom"); gap != 0 {
				t.Errorf("%s at %d px: STOP stands %v px off the bottom", path, width, gap)
			}
		}
	}
	for _, path := range []string{"/", "/?unit=F", "/records", "/profile/rye-four-rests", "/profile/hostile", "/profile/broken", "/profile/rye-four-rests/arm", "/notifications", "/nowhere", "/alarms", "/profiles", "/kettle", "/profile/hostile/edit", "/profile/broken/edit", "/profile/rye-four-rests/scale", "/profile/rye-four-rests/sheet", "/chart"} {
		look(path)
	}
	look("/did")
	look("/did?unit=F")
	b.press(controller.Command{Wish: controller.Stop})
	look("/")
	look("/end")
}

func TestTheTemperatureIsReadableAtArmsLength(t *testing.T) {
	b := newBench(t)
	b.warm()
	server := b.listen("")
	t.Cleanup(func() { shut(server) })
	tab := newBrowser(t)
	tab.do(chromedp.EmulateViewport(360, 780), chromedp.Navigate(server.URL))
	if size := ask[float64](tab, "parseFloat(getComputedStyle(document.getElementById('figure')).fontSize)"); size < 0.24*360 {
		t.Errorf("the figure is %v px high, less than 24 %% of the width", size)
	}
	if ask[bool](tab, "document.getElementById('figure').closest('[role=status], [role=alert], [aria-live]') !== null") {
		t.Error("the temperature would be read out each second")
	}
	if !ask[bool](tab, "['trip', 'cut', 'stale'].every(id => document.getElementById(id).getAttribute('role') === 'alert') && document.getElementById('spoken').getAttribute('role') === 'status'") {
		t.Error("what happens would not be read out")
	}
}
