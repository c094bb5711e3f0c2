package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"strings"
	"time"

	"mashward/cmd/internal/config"
	"mashward/cmd/internal/notice"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/cmd/mashward/internal/notify"
)

// telling is who is told of a daemon's events: this terminal or log always, and the
// targets of a file. A bad file is no end of the daemon, which may have a batch to
// offer: nothing is sent then, and log and page say why.
func (s *serve) telling(c *call, log *slog.Logger) notify.Options {
	o := notify.Options{Say: sayTo(c.err, log)}
	if s.notify == "" {
		return o
	}
	file, warnings, err := config.LoadNotify(s.notify)
	for _, w := range warnings {
		log.Warn("notify file", "fault", w.String())
	}
	var bad *config.Failure
	switch {
	case err == nil:
		o.File = file
		return o
	case errors.As(err, &bad) && bad.Err == nil:
		for _, f := range bad.Faults {
			o.Faults = append(o.Faults, f.String())
		}
	default:
		o.Faults = []string{err.Error()}
	}
	for _, f := range o.Faults {
		log.Error("notify file: nobody is told", "fault", f)
	}
	return o
}

// sayTo writes every message where the daemon was started: on a terminal as people
// read it, with a bell; elsewhere as a line of the log.
func sayTo(out io.Writer, log *slog.Logger) func(notify.Message) {
	if !terminal(out) {
		return func(m notify.Message) {
			level := slog.LevelInfo
			if m.Urgent > 3 {
				level = slog.LevelWarn
			}
			log.Log(context.Background(), level, strings.TrimSpace(m.Said+" "+m.Do), "event", m.Kind, "news", m.State)
		}
	}
	return func(m notify.Message) {
		bell := ""
		if m.Urgent > 3 {
			bell = "\a"
		}
		fmt.Fprintf(out, "%s\n%s\n%s\n\n", bell, m.Field("title"), m.Field("text"))
	}
}

const notifySynopsis = "test FILE | show FILE"

// runNotify is `mashward notify`.
func runNotify(c *call) error {
	o := newOptions("notify", notifySynopsis,
		"FILE says who is told of prompts, alarms and the end of a batch; the JSON Schema is\nthat of `mashward check --schema notify`.\n\n"+
			"test    sends one test to each target, once, and tells what came back; exit code 1\n        where one did not take it\n"+
			"show    writes what would be sent to each, with an example of each event; sends nothing,\n        shows no secret\n\n"+
			"Fields in braces that body and header values may have:\n"+fieldLines()+
			"\nMessages are a convenience: nothing waits for one, and none protects anybody.", c.out)
	if done, err := o.parse(c.args); done || err != nil {
		return err
	}
	if len(o.words) == 0 {
		return usage("notify: what about it? %s", notifySynopsis)
	}
	verb := o.words[0]
	o.words = o.words[1:]
	if verb != "test" && verb != "show" {
		return usage("notify: there is no %q; %s", verb, notifySynopsis)
	}
	path, err := o.one("notify file")
	if err != nil {
		return err
	}
	file, warnings, err := config.LoadNotify(path)
	if err != nil {
		return err
	}
	c.warn(warnings)
	if verb == "show" {
		_, err := io.WriteString(c.out, notify.Examples(file))
		return err
	}
	return c.tryNotify(file)
}

// tryNotify sends a test to each target.
func (c *call) tryNotify(file notice.File) error {
	n := notify.New(notify.Options{
		File: file, Now: time.Now, Log: slog.New(slog.DiscardHandler),
		Latest: func() *daemon.Snapshot { return &daemon.Snapshot{Rig: "mashward", HeatDisabled: true} },
	})
	tried, _ := n.Test(context.Background())
	code := exitOK
	for _, t := range tried {
		fmt.Fprintf(c.out, "%s (%s): %s\n", t.Target, t.Host, t.Text)
		if !t.Taken {
			code = exitShort
		}
	}
	if code != exitOK {
		return &exit{code: code}
	}
	return nil
}

// fieldLines explain the fields.
func fieldLines() string {
	var b strings.Builder
	for _, f := range notice.Fields() {
		fmt.Fprintf(&b, "  %-14s%s\n", "{"+f+"}", notice.Explained(f))
	}
	return b.String()
}
