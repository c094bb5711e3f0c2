package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/metricset"
	"mashward/cmd/mashward/internal/api"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/notify"
	"mashward/cmd/mashward/internal/web"
	"mashward/controller/loop"
)

// ender ends a daemon with its first frame.
type ender func()

func (e ender) Watch(*loop.Frame) { e() }

// TestAScrapeOfALoopThatStandsStillIsTold: a frame is the present for 5 s.
func TestAScrapeOfALoopThatStandsStillIsTold(t *testing.T) {
	rig, _, err := config.LoadRig(yard)
	if err != nil {
		t.Fatal(err)
	}
	wall := time.Date(2026, 1, 10, 8, 0, 0, 0, time.UTC)
	now := func() time.Time { return wall }
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	tracker := metricset.NewTracker(rig.Element.Power)
	d := daemon.New(daemon.Options{
		Rig: rig, Plant: rig.Plant(), Simulated: true, Kettle: daemon.NewSimulated(rig, rig.Plant(), 0),
		Now: now, Log: slog.New(slog.DiscardHandler), Watchers: []loop.Watcher{tracker, ender(stop)},
	})
	source := current{tracker, d, now}
	if _, ok := source.Latest(); ok {
		t.Error("there is a sample before the first frame")
	}
	d.Run(ctx)
	for _, c := range []struct {
		after time.Duration
		ok    bool
	}{{0, true}, {5 * time.Second, true}, {5*time.Second + time.Millisecond, false}, {time.Hour, false}} {
		wall = d.Latest().Wall.Add(c.after)
		if s, ok := source.Latest(); ok != c.ok || !s.Live {
			t.Errorf("%v after the frame: present %v, want %v; counters there: %v", c.after, ok, c.ok, s.Live)
		}
	}
}

// What stands before every route answers programs as the document says.
func TestRefusalsBeforeTheInterfaceAreItsProblems(t *testing.T) {
	rig, _, err := config.LoadRig(yard)
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(web.Guard(newSite(daemon.Options{
		Rig: rig, Plant: rig.Plant(), Simulated: true, Now: time.Now, Log: slog.New(slog.DiscardHandler),
	}, notify.Options{}).handler))
	defer server.Close()
	ask := func(method, path string, change func(*http.Request)) (*http.Response, []byte) {
		r, err := http.NewRequestWithContext(t.Context(), method, server.URL+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		change(r)
		a, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer a.Body.Close()
		body, err := io.ReadAll(a.Body)
		if err != nil {
			t.Fatal(err)
		}
		return a, body
	}
	_, document := ask("GET", "/api/v1/openapi.json", func(*http.Request) {})
	for status, change := range map[int]func(*http.Request){
		http.StatusForbidden:          func(r *http.Request) { r.Header.Set("Origin", "http://evil.example") },
		http.StatusMisdirectedRequest: func(r *http.Request) { r.Host = "kettle.evil.example" },
	} {
		a, body := ask("POST", "/api/v1/stop", change)
		var p api.Problem
		d := json.NewDecoder(bytes.NewReader(body))
		d.DisallowUnknownFields()
		if err := d.Decode(&p); err != nil || a.StatusCode != status || p.Status != status || a.Header.Get("Content-Type") != "application/problem+json" {
			t.Errorf("%s, %s: %v\n%s", a.Status, a.Header.Get("Content-Type"), err, body)
		}
		if p.Title == "" || p.Detail == "" || !bytes.Contains(document, []byte(`"`+p.Type+`"`)) {
			t.Errorf("%+v is not as the document says", p)
		}
	}
}
