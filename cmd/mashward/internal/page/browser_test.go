package page

import (
	"context"
	"net"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"mashward/deploy/yardstick"
)

// chromium finds Debian's browser. Without it a test is skipped, but not in CI.
func chromium(t testing.TB) string {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	yardstick.Missing(t, "no chromium on this machine, nobody to look at the page: install it (Debian: apt-get install chromium)")
	return ""
}

// browser is one tab of a browser that asks nobody but us.
type browser struct {
	t   testing.TB
	ctx context.Context
}

func newBrowser(t testing.TB) *browser {
	t.Helper()
	flags := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium(t)), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true), chromedp.UserDataDir(t.TempDir()))
	all, cancelAll := chromedp.NewExecAllocator(context.Background(), flags...)
	ctx, cancel := chromedp.NewContext(all)
	t.Cleanup(func() {
		_ = chromedp.Cancel(ctx) // waits for the browser to end, so that its folder can go
		cancel()
		cancelAll()
	})
	b := &browser{t, ctx}
	if err := chromedp.Do(ctx); err != nil {
		t.Fatal(err)
	}
	return b
}

// patient is how long anything may take that should happen soon. Two cores are
// shared with whatever else is tested.
const patient = 30 * time.Second

// do runs actions, all of them within patient.
func (b *browser) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patient)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		b.t.Fatalf("%v\n%s", err, b.text())
	}
}

// ask evaluates an expression in the page.
func ask[T any](b *browser, expression string) T {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patient)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression))
	if err != nil {
		b.t.Fatalf("%s: %v", expression, err)
	}
	return v
}

// text is what can be read on the page now.
func (b *browser) text() string {
	ctx, cancel := context.WithTimeout(b.ctx, 5*time.Second)
	defer cancel()
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string]("document.body.innerText"))
	if err != nil {
		return err.Error()
	}
	return text
}

// becomes waits until an expression is true.
func (b *browser) becomes(expression string) {
	b.t.Helper()
	b.becomesWithin(patient, expression)
}

func (b *browser) becomesWithin(limit time.Duration, expression string) {
	b.t.Helper()
	if !eventually(limit, func() bool {
		ctx, cancel := context.WithTimeout(b.ctx, 5*time.Second)
		defer cancel()
		ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool]("Boolean("+expression+")"))
		return err == nil && ok
	}) {
		b.t.Fatalf("not so within %v: %s\n%s", limit, expression, b.text())
	}
}

// reads waits until a text stands on the page.
func (b *browser) reads(text string) {
	b.t.Helper()
	b.becomes("document.body.innerText.includes(" + quoted(text) + ")")
}

func quoted(s string) string {
	return "'" + strings.NewReplacer(`\`, `\\`, `'`, `\'`, "\n", `\n`).Replace(s) + "'"
}

// eventually asks again and again.
func eventually(limit time.Duration, so func() bool) bool {
	over := time.NewTimer(limit)
	defer over.Stop()
	again := time.NewTicker(50 * time.Millisecond)
	defer again.Stop()
	for {
		if so() {
			return true
		}
		select {
		case <-over.C:
			return so()
		case <-again.C:
		}
	}
}

// relisten takes an address that has just been free.
func relisten(t testing.TB, address string) net.Listener {
	t.Helper()
	var l net.Listener
	var err error
	if !eventually(5*time.Second, func() bool {
		l, err = net.Listen("tcp", address)
		return err == nil
	}) {
		t.Fatal(err)
	}
	return l
}
