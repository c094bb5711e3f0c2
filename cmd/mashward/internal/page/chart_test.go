package page

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
	"mashward/profile"
)

// inTheRest is a bench ten minutes into the rest at 63 °C.
func inTheRest(t *testing.T, settings ...setting) *bench {
	b := newBench(t, settings...)
	b.begin("rye-four-rests")
	b.stage(profile.Strike, controller.Ready)
	b.press(controller.Command{Wish: controller.PouringNow})
	b.press(controller.Command{Wish: controller.GrainIn})
	b.until("63 °C rest", func(s *daemon.Snapshot) bool {
		return s.Decision.Index == 2 && s.Decision.Stage == controller.Count && s.Decision.Earned.Minutes() > 10
	})
	return b
}

func TestTheChartIsZoomedToAStepAndReadAsFigures(t *testing.T) {
	b := newBench(t)
	if status, to, _ := func() (int, string, string) { s, p := b.get("/chart"); return s, "", p }(); status != http.StatusSeeOther {
		t.Error(status, to)
	}
	if status, _ := b.get("/course.json"); status != http.StatusNotFound {
		t.Error(status)
	}
	b = inTheRest(t)
	status, whole := b.get("/chart")
	if status != http.StatusOK || !strings.Contains(whole, `href="/chart?step=2">Rest at 63.0 °C`) || !strings.Contains(whole, "beta-amylase left") || strings.Count(whole, `<th scope="row">`) < 20 {
		t.Errorf("%d %s", status, whole)
	}
	_, part := b.get("/chart?step=2")
	if !strings.Contains(part, `aria-current="page">Rest at 63.0 °C`) || strings.Contains(part, `data-from="0"`) || !strings.Contains(part, `data-label="read">63.`) {
		t.Error(part)
	}
	if _, odd := b.get("/chart?step=99&unit=F"); !strings.Contains(odd, `data-from="0"`) || !strings.Contains(odd, " °F</td>") {
		t.Error(odd)
	}
	_, body := b.get("/course.json?step=2")
	var course struct {
		Titles  map[string]string
		Moments [][6]*float64
	}
	if err := json.Unmarshal([]byte(body), &course); err != nil || course.Titles["2"] != "rest at 63.0 °C" || len(course.Moments) < 100 || len(course.Moments) > mostMoments {
		t.Fatal(err, course.Titles, len(course.Moments))
	}
	// The true course is that of the snapshot, to a hundredth and 10 s.
	snap, seen := b.daemon.Latest(), 0
	for _, m := range course.Moments {
		for _, p := range snap.History {
			if m[1] != nil && p.At.Seconds() == *m[0] {
				seen++
				if d := float64(p.Reading) - *m[1]; d > 0.006 || d < -0.006 {
					t.Errorf("at %v %v, not %v", p.At, *m[1], p.Reading)
				}
			}
		}
	}
	if seen < 20 {
		t.Errorf("only %d moments can be compared", seen)
	}
}

func TestWhatLiesUnderAFingerOrASliderIsSaid(t *testing.T) {
	b := inTheRest(t, speed(1))
	server := b.listen("")
	t.Cleanup(func() { shut(server) })
	tab := newBrowser(t)
	n := tab.listen()
	tab.do(chromedp.EmulateViewport(360, 780), chromedp.Navigate(server.URL+"/chart?step=2"))
	tab.becomes("document.querySelector('.moment').hidden === false")
	tab.do(chromedp.ScrollIntoView(chromedp.CSS("#chart .narrow svg")))
	x := ask[float64](tab, "(() => { const r = document.querySelector('#chart .narrow svg').getBoundingClientRect(); return r.x + r.width * 0.5 })()")
	y := ask[float64](tab, "(() => { const r = document.querySelector('#chart .narrow svg').getBoundingClientRect(); return Math.max(r.y + 40, 120) })()")
	tab.do(chromedp.MouseClickXY(x, y))
	tab.becomes(`/^\d:\d\d: [\d.]+ °C read, target 63\.0 °C, planned [\d.]+ °C, heat \d+ %, rest\.$/.test(document.querySelector('.moment output').textContent)`)
	under := ask[string](tab, "document.querySelector('.moment output').textContent")
	tab.do(chromedp.Focus(chromedp.CSS(".moment input")), chromedp.KeyEvent(kb.Home))
	tab.becomes("document.querySelector('.moment output').textContent !== " + quoted(under))
	tab.becomes("document.querySelector('.moment input').getAttribute('aria-valuetext') === document.querySelector('.moment output').textContent && !document.querySelector('.cursor').hidden")
	tab.looked("/chart?step=2")
	tab.do(chromedp.Navigate(server.URL+"/?unit=F"), chromedp.Focus(chromedp.CSS(".moment input")), chromedp.KeyEvent(kb.Home))
	tab.becomes(`/^0:00: [\d.]+ °F read/.test(document.querySelector('.moment output').textContent)`)
	n.judge(t, strings.TrimPrefix(server.URL, "http://"))
}
