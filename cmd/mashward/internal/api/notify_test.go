package api

import (
	"context"
	"errors"
	"net"
	"net/http"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"mashward/cmd/internal/notice"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/notify"
	"mashward/controller"
)

// deaf is two targets of which one cannot be reached and one never answers.
func deaf(t *testing.T) *notify.Options {
	t.Helper()
	f, faults := notice.Parse("n.yaml", []byte("notify: [{target: gone, url: 'https://gone.example/s3cr3t'}, {target: mute, url: 'http://mute.example/', tell: [prompt]}]"))
	if len(f.Targets) != 2 {
		t.Fatal(faults)
	}
	return &notify.Options{File: f, Dial: func(ctx context.Context, _, address string) (net.Conn, error) {
		if strings.HasPrefix(address, "gone") {
			return nil, errors.New("no such host")
		}
		<-ctx.Done()
		return nil, ctx.Err()
	}}
}

func TestWhoIsToldAndWhatStandsCanBeAsked(t *testing.T) {
	inBubble(t, settings{notify: deaf(t)}, func(b *bench) {
		b.run("warm")
		b.pan.blind.Store(true)
		pass(5 * time.Minute)
		s := into[notify.State](b, b.get("notifications"))
		if len(s.Targets) != 2 || s.Targets[0].Host != "https://gone.example" || s.Targets[0].Last != "no such host" || len(s.Stands) == 0 {
			b.Errorf("%+v", s)
		}
		said := false
		for _, x := range s.Stands {
			said = said || x.Kind == notice.Trip && x.ID == "stale" && x.Times > 1
		}
		if !said {
			b.Errorf("a trip is not among what stands: %+v", s.Stands)
		}
		seen := into[SaidNoMore](b, b.post("notifications/seen", `{}`, 200))
		if len(seen.Seen) != len(s.Stands) {
			b.Errorf("%+v of %+v", seen, s.Stands)
		}
		if all := into[listedAlarms](b, b.get("alarms")).Alarms; len(all) == 0 || all[0].Seen == nil { // one word is enough
			b.Errorf("%+v", all)
		}
		for _, x := range into[notify.State](b, b.get("notifications")).Stands {
			if !x.Seen {
				b.Errorf("said again all the same: %+v", x)
			}
		}
		s2 := b.d.Latest()
		if s2.Decision.Mode != controller.Held { // it is only not said again
			b.Error(s2.Decision.Mode)
		}
		if i := slices.IndexFunc(s2.Alarms, func(a daemon.Alarm) bool { return a.Unseen() }); i >= 0 {
			b.Errorf("an alarm that was seen counts as not seen: %+v", s2.Alarms[i])
		}
		none := into[SaidNoMore](b, b.post("notifications/seen", `{}`, 200))
		if len(none.Seen) != 0 {
			b.Errorf("%+v", none)
		}
	})
}

func TestATestOfNotificationsSaysWhatCameBack(t *testing.T) {
	inBubble(t, settings{notify: deaf(t)}, func(b *bench) {
		tried := into[TriedAll](b, b.post("notifications/test", `{}`, 200)).Tried
		if len(tried) != 2 || tried[0].Taken || tried[0].Text != "no such host" || tried[1].Text != "no answer within 8 s" {
			b.Errorf("%+v", tried)
		}
		go b.ask("POST", "notifications/test", `{}`)
		synctest.Wait()
		no(b, b.ask("POST", "notifications/test", `{}`), http.StatusTooManyRequests, "test-under-way")
		pass(time.Minute)
	})
}

func TestRequestsAboutNotificationsAreHeldToTheDocument(t *testing.T) {
	inBubble(t, settings{}, func(b *bench) {
		if s := into[notify.State](b, b.get("notifications")); len(s.Targets) != 0 {
			b.Errorf("%+v", s)
		}
		for _, path := range []string{"notifications/test", "notifications/seen"} {
			no(b, b.ask("POST", path, `{"x": 1}`), http.StatusBadRequest, "bad-request")
			no(b, b.ask("POST", path, `{}`, "Content-Type: text/plain"), http.StatusUnsupportedMediaType, "not-json")
			no(b, b.ask("POST", path, strings.Repeat(" ", 70<<10)), http.StatusRequestEntityTooLarge, "too-large")
			b.post(path, `{}`, 200, "Idempotency-Key: "+path)
			no(b, b.ask("POST", path, `{ }`, "Idempotency-Key: "+path), http.StatusUnprocessableEntity, "key-reused")
			b.api.memory.deeds = map[string]*deed{}
			for i := range mostKeys {
				b.api.memory.deeds[strings.Repeat("x", i+1)] = &deed{done: make(chan struct{})}
			}
			no(b, b.ask("POST", path, `{}`, "Idempotency-Key: new"), http.StatusServiceUnavailable, "busy")
			b.api.memory.deeds = nil
		}
	})
}
