package page

import (
	"context"
	"errors"
	"net"
	"net/http"
	"testing"

	"mashward/cmd/internal/notice"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/notify"
)

func TestMessagesAreReachedTriedAndSilencedFromThePage(t *testing.T) {
	b := newBench(t)
	f, _ := notice.Parse("n.yaml", []byte("notify: [{target: '<i>phone', url: 'https://gone.example/s3cr3t', tell: [trip]}]"))
	b.options.Notify = notify.New(notify.Options{
		File: f, Latest: b.daemon.Latest, Now: b.options.Now, Log: b.options.Log,
		Dial: func(context.Context, string, string) (net.Conn, error) { return nil, errors.New("no such host") },
	})
	b.handler = New(b.options)
	b.until("a reading", func(s *daemon.Snapshot) bool { return s.Number > 2 })
	_, now := b.get("/")
	holds(t, now, `href="/notifications"`)
	_, page := b.get("/notifications")
	holds(t, page, "They are a convenience", "&lt;i&gt;phone", "https://gone.example", "is told of: trip", `action="/notifications/test"`, "Nothing is asked, and no alarm stands.")
	lacks(t, page, "s3cr3t", "What came back", `action="/notifications/seen"`)
	status, _, page := b.post("/notifications/test")
	if status != http.StatusOK {
		t.Error(status)
	}
	holds(t, page, "What came back from the test", "not delivered: no such host")
	lacks(t, page, "s3cr3t")
	if status, to, _ := b.post("/notifications/seen"); status != http.StatusSeeOther || to != "/notifications" {
		t.Error(status, to)
	}
}

func TestWithoutAFileThePageSaysThatNobodyIsTold(t *testing.T) {
	b := newBench(t)
	_, page := b.get("/notifications")
	holds(t, page, "No file was named, so nobody is told.", "--notify FILE")
	lacks(t, page, `action="/notifications/test"`)
}
