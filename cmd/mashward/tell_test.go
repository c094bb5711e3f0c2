package main

import (
	"context"
	"log/slog"
	"net"
	"strings"
	"testing"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/notify"
	"mashward/controller"
	"mashward/controller/loop"
	"mashward/profile"
)

// brisk lets time fly until a person is asked.
type brisk func(speed float64)

func (b brisk) Watch(f *loop.Frame) {
	if f.Decision.Mode == controller.Running && f.Decision.Prompt == controller.NoPrompt && f.Decision.Kind == profile.Strike {
		b(0)
		return
	}
	b(20)
}

// With the phone dead and the network gone the day is carried on from a terminal of
// the computer itself: what is asked is said there, and answered there.
func TestADayCanBeFollowedAndAnsweredFromATerminal(t *testing.T) {
	rig, _, err := config.LoadRig(yard)
	if err != nil {
		t.Fatal(err)
	}
	folder := t.TempDir()
	if err := unpack(folder); err != nil {
		t.Fatal(err)
	}
	kettle := daemon.NewSimulated(rig, rig.Plant(), 20)
	o := daemon.Options{
		Rig: rig, Plant: rig.Plant(), Profiles: folder, Simulated: true, Kettle: kettle,
		Now: time.Now, Log: slog.New(slog.DiscardHandler), Watchers: []loop.Watcher{brisk(kettle.SetSpeed)},
	}
	said := make(chan notify.Message, 100)
	site := newSite(o, notify.Options{Say: func(m notify.Message) { said <- m }})
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	at := listener.Addr().String()
	tell := func(words ...string) answer { return mashward(append([]string{"tell", "--at", at}, words...)...) }
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- site.serve(ctx, listener) }()
	defer func() { stop(); <-ended }()
	for !strings.Contains(tell().out, "Idle: nothing is heated.") {
		if ctx.Err() != nil {
			t.Fatal("it does not answer")
		}
	}
	if err := start(ctx, site.daemon, 26); err != nil {
		t.Fatal(err)
	}
	if a := tell("bag-clear"); a.code != exitShort || !strings.Contains(a.err, "Refused: ") {
		t.Errorf("%d %s%s", a.code, a.out, a.err)
	}
	m := next(t, said, "prompt")
	if !strings.HasSuffix(m.Do, "mashward tell pouring-now.") {
		t.Errorf("%q", m.Do)
	}
	a := tell()
	if a.code != exitOK || !strings.Contains(a.out, "You are asked: "+m.Said) || !strings.Contains(a.out, "Go and look, then: mashward tell pouring-now\n") {
		t.Errorf("%d %s%s", a.code, a.out, a.err)
	}
	for _, wish := range []string{"seen", "pouring-now", "grain-in"} {
		if a := tell(wish); a.code != exitOK {
			t.Errorf("%s: %d %s%s", wish, a.code, a.out, a.err)
		}
	}
	if a := tell("added", "--litres", "1", "--celsius", "60"); a.code != exitOK {
		t.Errorf("%d %s%s", a.code, a.out, a.err)
	}
	if a := tell("stop"); a.code != exitOK || !strings.Contains(a.out, "Heat and pump are off.") {
		t.Errorf("%d %s%s", a.code, a.out, a.err)
	}
	next(t, said, "held")
	if a := tell("end"); a.code != exitOK {
		t.Errorf("%d %s%s", a.code, a.out, a.err)
	}
	if m := next(t, said, "ended"); !strings.Contains(m.Said, "still live") {
		t.Errorf("%q", m.Said)
	}
}

// next waits for a message of a kind.
func next(t *testing.T, said chan notify.Message, kind string) notify.Message {
	t.Helper()
	for {
		select {
		case m := <-said:
			if m.Kind == kind {
				return m
			}
		case <-t.Context().Done():
			t.Fatalf("never told: %s", kind)
		}
	}
}

func TestTellAsksThisComputerOnly(t *testing.T) {
	for want, args := range map[int][]string{
		exitUsage:  {"tell", "--at", "192.0.2.1:8973"},
		exitDevice: {"tell", "--at", "127.0.0.1:1"},
	} {
		if a := mashward(args...); a.code != want || a.err == "" {
			t.Errorf("%q: %d %s%s", args, a.code, a.out, a.err)
		}
	}
	if a := mashward("tell", "pause", "now"); a.code != exitUsage {
		t.Errorf("%d %s", a.code, a.err)
	}
}
