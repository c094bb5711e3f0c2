package page

import (
	"fmt"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"mashward/controller"
)

// The script's own limits: held for longer than that it stops, and two presses within
// that do.
const (
	heldFor = 700 * time.Millisecond
	twiceIn = 3 * time.Second
)

// finger puts a finger on STOP or takes it off again.
func (b *browser) finger(what input.DispatchMouseEventType) {
	b.t.Helper()
	x := ask[float64](b, "document.querySelector('#stop button').getBoundingClientRect().x + 40")
	y := ask[float64](b, "document.querySelector('#stop button').getBoundingClientRect().y + 30")
	b.do(chromedp.MouseEvent(what, x, y, chromedp.ButtonType(input.MouseButtonLeft), chromedp.ClickCount(1)))
}

// hold keeps a finger on STOP until it is full.
func (b *browser) hold() {
	b.t.Helper()
	b.finger(input.DispatchMouseEventTypeMousePressed)
	b.becomes("!document.querySelector('#stop .held')")
	b.finger(input.DispatchMouseEventTypeMouseReleased)
}

// passes lets so much time pass by the page's own clock.
func (b *browser) passes(d time.Duration) {
	b.t.Helper()
	b.becomes(fmt.Sprintf("performance.now() > %g", ask[float64](b, "performance.now()")+float64(d.Milliseconds())))
}

// tap presses it for as long as a sleeve does.
func (b *browser) tap() {
	b.t.Helper()
	b.finger(input.DispatchMouseEventTypeMousePressed)
	b.finger(input.DispatchMouseEventTypeMouseReleased)
}

func TestSTOPIsHeldOrPressedTwiceAndNeverAByOneTouch(t *testing.T) {
	b := newBench(t)
	b.begin("rye-four-rests")
	server := b.listen("")
	t.Cleanup(func() { shut(server) })
	tab := newBrowser(t)
	tab.do(chromedp.EmulateViewport(360, 780), chromedp.Navigate(server.URL+"/alarms"))
	stopped := func(want bool, how string) {
		t.Helper()
		if want {
			tab.reads("Stopped. " + stoppedWords)
			b.press(controller.Command{Wish: controller.Resume})
			tab.do(chromedp.Navigate(server.URL + "/alarms"))
			return
		}
		if m := b.daemon.Latest().Decision.Mode; m != controller.Running {
			t.Fatalf("%s: the batch is %s", how, m)
		}
	}
	tab.reads("Hold to STOP heat and pump")
	tab.tap()
	tab.reads("Not stopped. Hold it until it is full, or press it twice.")
	tab.passes(twiceIn) // so long after it the next one is the first again
	stopped(false, "one touch")
	tab.tap()
	stopped(false, "one touch, long after another")
	tab.tap()
	stopped(true, "pressed twice")

	tab.finger(input.DispatchMouseEventTypeMousePressed)
	tab.becomes("document.querySelector('#stop .held span').textContent === 'Keep holding …'")
	tab.do(chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, 100, 100, chromedp.ButtonType(input.MouseButtonLeft)))
	tab.passes(heldFor)
	stopped(false, "a finger that slips off")
	tab.do(chromedp.MouseEvent(input.DispatchMouseEventTypeMouseReleased, 100, 100, chromedp.ButtonType(input.MouseButtonLeft)))

	began := time.Now()
	tab.hold()
	if took := time.Since(began); took < heldFor {
		t.Errorf("held for %v", took)
	}
	stopped(true, "held")

	tab.do(chromedp.Focus(chromedp.CSS("#stop button")), chromedp.KeyEvent(kb.Enter))
	stopped(true, "a key")
	// What presses for people who cannot: no finger, no mouse.
	ask[bool](tab, "document.querySelector('#stop button').click() === undefined")
	stopped(true, "another's press")
}
