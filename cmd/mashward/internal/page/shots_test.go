//go:build shots

package page

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"

	"mashward/cmd/internal/say"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller"
	"mashward/profile"
)

// TestPicturesOfEveryState writes pictures for people to look at, in the
// folder that MASHWARD_SHOTS names:
//
//	MASHWARD_SHOTS=folder go test -tags shots -run Pictures ./cmd/mashward/internal/page
func TestPicturesOfEveryState(t *testing.T) {
	folder := os.Getenv("MASHWARD_SHOTS")
	if folder == "" {
		t.Fatal("MASHWARD_SHOTS names no folder for the pictures")
	}
	b := newBench(t)
	s := b.listen("")
	t.Cleanup(func() { shut(s) })
	tab := newBrowser(t)
	shoot := func(name, path string) { tab.shoot(filepath.Join(folder, name), s.URL+path) }
	shoot("01-idle", "/")
	shoot("02-plan", "/profile/rye-four-rests")
	shoot("03-broken-profile", "/profile/broken")
	b.post("/profile/rye-four-rests/rehearse")
	shoot("04-rehearsed", "/profile/rye-four-rests")
	shoot("04-profiles", "/profiles")
	shoot("04-edit", "/profile/rye-four-rests/edit")
	shoot("04-edit-faults", "/profile/broken/edit")
	shoot("04-scale", "/profile/rye-four-rests/scale")
	shoot("04-sheet", "/profile/rye-four-rests/sheet")
	shoot("04-kettle", "/kettle")
	shoot("05-arming", "/profile/rye-four-rests/arm")
	_, to, _ := b.post("/profile/rye-four-rests/arm", "hash", b.hash("rye-four-rests"), "litres", "26", "bag", "yes", "valve", "yes", "rcd", "yes")
	shoot("06-confirm", to)
	b.shootDay(shoot)
	b.end()
	if !eventually(patient, func() bool { return tab.stale(s.URL) }) {
		t.Error("not stale")
	}
	shoot("20-stale", "/")

	x := newBench(t, broken)
	sx := x.listen("")
	t.Cleanup(func() { shut(sx) })
	tab.shoot(filepath.Join(folder, "21-broken-rig"), sx.URL+"/")
	tab.shoot(filepath.Join(folder, "22-broken-rig-plan"), sx.URL+"/profile/rye-four-rests")
	tab.shoot(filepath.Join(folder, "23-hostile"), s.URL+"/profile/hostile")
}

// shootDay goes through a brew day and takes its pictures.
func (b *bench) shootDay(shoot func(name, path string)) {
	b.t.Helper()
	b.begin("rye-four-rests")
	b.until("some minutes", func(s *daemon.Snapshot) bool { return s.Decision.Clock.Minutes() > 12 })
	shoot("07-strike", "/?said=begun")
	b.stage(profile.Strike, controller.Ready)
	shoot("08-prompt", "/")
	b.press(controller.Command{Wish: controller.PouringNow})
	shoot("09-pour", "/")
	b.press(controller.Command{Wish: controller.GrainIn})
	b.until("63 °C rest", func(s *daemon.Snapshot) bool {
		return s.Decision.Index == 2 && s.Decision.Stage == controller.Count && s.Decision.Earned.Minutes() > 10
	})
	shoot("10-rest", "/")
	shoot("10-rest-fahrenheit", "/?unit=F")
	shoot("10-chart", "/chart?step=2")
	shoot("10-did", "/did")
	shoot("10-what-if", "/what-if")
	b.press(controller.Command{Wish: controller.Pause})
	shoot("11-paused", "/")
	b.press(controller.Command{Wish: controller.Stop})
	shoot("12-held", "/?said=stop")
	shoot("13-end", "/end")
	b.press(controller.Command{Wish: controller.Resume})
	b.pot.blind.Store(true)
	b.until("a cut", func(s *daemon.Snapshot) bool { return s.Cut != 0 })
	shoot("14-cut", "/")
	b.pot.blind.Store(false)
	b.until("no cut", func(s *daemon.Snapshot) bool { return s.Cut == 0 })
	shoot("14-alarms", "/alarms")
	b.stage(profile.Lift, controller.Ready)
	b.press(controller.Command{Wish: controller.LiftingNow})
	b.press(controller.Command{Wish: controller.BagClear})
	shoot("15-drained", "/")
	b.press(controller.Command{Wish: controller.Drained, Volume: 22})
	b.until("the door", func(s *daemon.Snapshot) bool { return s.Decision.Prompt == controller.AskHereLidOff })
	b.press(controller.Command{Wish: controller.HereLidOff})
	b.until("the boil", func(s *daemon.Snapshot) bool {
		return s.Decision.Stage == controller.Boil && s.Decision.Earned.Minutes() > 20
	})
	shoot("16-boil", "/")
	b.until("the chiller in the boil", func(s *daemon.Snapshot) bool { return s.Decision.Prompt == controller.AskScald })
	b.press(controller.Command{Wish: say.Answer(controller.AskScald)})
	b.until("the chiller", func(s *daemon.Snapshot) bool { return s.Decision.Prompt == controller.AskChillerWater })
	b.press(controller.Command{Wish: controller.ChillerIn})
	b.until("some chilling", func(s *daemon.Snapshot) bool { return s.Decision.Filtered < 60 })
	shoot("17-chill", "/")
	b.until("the end", func(s *daemon.Snapshot) bool { return s.Decision.Mode.Ended() })
	shoot("18-finished", "/")
	pair := b.twoDays()
	shoot("19-records", "/records")
	shoot("20-compare", pair)
}

// shoot takes one page at both widths and in both themes.
func (b *browser) shoot(name, address string) {
	b.t.Helper()
	for _, l := range looks {
		b.wear(l.theme, l.width, l.height)
		b.do(chromedp.Navigate(address))
		ctx, cancel := context.WithTimeout(b.ctx, patient)
		png, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
		cancel()
		if err != nil {
			b.t.Fatal(err)
		}
		if err := os.WriteFile(name+"-"+l.name+".png", png, 0o600); err != nil {
			b.t.Fatal(err)
		}
	}
}
