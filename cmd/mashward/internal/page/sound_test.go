package page

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"mashward/controller"
	"mashward/profile"
)

// What is heard is counted where a tone would begin.
const spy = `window.heard = 0; window.felt = 0;
OscillatorNode.prototype.start = (start => function (...a) { window.heard++; return start.apply(this, a); })(OscillatorNode.prototype.start);
Navigator.prototype.vibrate = () => { window.felt++; return true; }; 1`

// Nothing is heard before somebody asks for it; then each new question is, until he
// has had enough. All of it stands on the page in words the whole time.
func TestANewQuestionIsHeardByWhoAskedForThat(t *testing.T) {
	b := newBench(t, speed(1))
	b.begin("rye-four-rests")
	b.stage(profile.Strike, controller.Ready)
	server := b.listen("")
	defer shut(server)
	tab := newBrowser(t)
	n := tab.listen()
	tab.do(chromedp.Navigate(server.URL))
	tab.becomes("!document.getElementById('sound-box').hidden")
	ask[float64](tab, spy)
	b.press(controller.Command{Wish: controller.PouringNow})
	tab.reads("Stir the grain in")
	count := func() (heard, felt float64) { return ask[float64](tab, "heard"), ask[float64](tab, "felt") }
	if heard, felt := count(); heard != 0 || felt != 0 {
		t.Errorf("heard %v and felt %v before anybody asked for it", heard, felt)
	}
	tab.reads("Off: nothing is heard.")
	tab.click("#sound")
	tab.becomes("document.getElementById('sound').getAttribute('aria-pressed') === 'true' && heard === 2 && felt === 1")
	tab.reads("On: a new prompt or alarm is heard")
	b.press(controller.Command{Wish: controller.GrainIn})
	b.stage(profile.Lift, controller.Ready)
	tab.reads("The mash is done.")
	tab.becomes("heard >= 4 && felt >= 2")
	tab.click("#sound")
	tab.becomes("document.getElementById('sound').getAttribute('aria-pressed') === 'false'")
	heard, felt := count()
	b.press(controller.Command{Wish: controller.LiftingNow})
	tab.reads("Lift the bag clear")
	if h, f := count(); h != heard || f != felt {
		t.Errorf("heard %v and felt %v more after it was turned off", h-heard, f-felt)
	}
	n.judge(t, strings.TrimPrefix(server.URL, "http://"))
}
