package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"time"

	"mashward/cmd/mashward/internal/api"
	"mashward/cmd/mashward/internal/view"
	"mashward/cmd/mashward/internal/web"
)

// The words of tell that are no wishes.
const (
	sayStop = "stop"
	saySeen = "seen"
)

// tellWithin is how long an answer of the daemon is waited for: an order waits for
// the loop 5 s at most.
const tellWithin = 8 * time.Second

// runTell is `mashward tell`: what the page shows and takes, for when there is no
// page. It asks the daemon on this computer as any program may.
func runTell(c *call) error {
	o := newOptions("tell", "[WISH] [options]",
		"Without a wish: what the kettle does, what is asked, and what can be told. With one\n"+
			"it is told to the daemon on this computer, as a press on the page would: the wish\n"+
			"that answers a question stands beside it, such as\n\n"+
			"  mashward tell grain-in\n  mashward tell drained --litres 22.4\n\n"+
			"stop    STOP: heat and pump off, now; needs nothing\n"+
			"seen    you know of what stands: messages do not say it again\n\n"+
			"No phone and no network is needed. Heat is not begun here: arming asks for what is\n"+
			"to be seen at the kettle, on the page. Exit codes: 0 taken; 1 refused, and why;\n"+
			"64 usage; 69 no daemon answers.", c.out)
	at := o.String("at", "127.0.0.1:8973", "`address` that the daemon listens on, of this computer")
	for name, what := range figures {
		o.Float64(name, 0, what)
	}
	o.String("spot", "", "with ph-is: where in the mash; a `word` of openapi.json")
	o.String("instrument", "", "with gravity-is: the `word` for what it was read from")
	if done, err := o.parse(c.args); done || err != nil {
		return err
	}
	if err := web.Loopback(*at); err != nil {
		return usage("tell: --at: %v", err)
	}
	if len(o.words) > 1 {
		return usage("tell: one wish at a time, not %s", strings.Join(o.words, " "))
	}
	d := dialogue{call: c, at: "http://" + *at + api.Prefix}
	if len(o.words) == 0 {
		return d.show()
	}
	switch wish := o.words[0]; wish {
	case sayStop:
		return d.stop()
	case saySeen:
		return d.ask("notifications/seen", map[string]any{}, "Noted: what stands is not said again. What is asked is still to be answered.")
	default:
		body := map[string]any{"wish": wish}
		o.Visit(func(f *flag.Flag) {
			if key, ok := keyOf[f.Name]; ok {
				body[key] = f.Value.(flag.Getter).Get()
			}
		})
		return d.ask("command", body, "Taken: "+wish+".")
	}
}

// figures are the options with a number that a wish may need.
var figures = map[string]string{
	"litres": "litres, as a `number`, as measured", "celsius": "how warm that is, a `number` in °C", "minutes": "with extend: a `number` of minutes longer",
	"kilograms": "with grain-is: a `number`", "value": "with ph-is and gravity-is: the `number` as read", "calibrated": "with gravity-is: °C at which the float is true, a `number`",
	"addition": "with addition-done: its `number`", "step": "with extend and retarget: the `number` of a step to come",
}

// keyOf are the keys of the interface by option.
var keyOf = map[string]string{
	"litres": "litres", "celsius": "celsius", "minutes": "minutes", "kilograms": "kilograms", "value": "value", "calibrated": "calibrated_celsius",
	"addition": "addition", "step": "step", "spot": "spot", "instrument": "instrument",
}

// dialogue is a call that speaks with a daemon.
type dialogue struct {
	*call
	at string // address with the prefix of the interface
}

// send asks and gives the status and the body of the answer.
func (d dialogue) send(method, path string, body any) (int, []byte, error) {
	var in io.Reader
	if body != nil {
		text, err := json.Marshal(body)
		if err != nil {
			return 0, nil, usage("tell: %v", err)
		}
		in = bytes.NewReader(text)
	}
	r, err := http.NewRequest(method, d.at+path, in)
	if err != nil {
		return 0, nil, usage("tell: %v", err)
	}
	if body != nil {
		r.Header.Set("Content-Type", "application/json")
	}
	client := http.Client{Timeout: tellWithin, Transport: &http.Transport{DisableKeepAlives: true}}
	a, err := client.Do(r)
	if err != nil {
		var op *net.OpError
		if errors.As(err, &op) && op.Op == "dial" {
			return 0, nil, &exit{exitDevice, "no daemon answers there: start one with mashward serve, or name its address with --at; nothing was told"}
		}
		return 0, nil, &exit{exitDevice, "the daemon has not answered, so it is not certain what became of it: look at the kettle; to end heat, isolate at the breaker (" + err.Error() + ")"}
	}
	defer a.Body.Close()
	text, err := io.ReadAll(io.LimitReader(a.Body, 1<<20))
	return a.StatusCode, text, err
}

// ask tells something, and what came of it.
func (d dialogue) ask(path string, body any, taken string) error {
	status, text, err := d.send(http.MethodPost, path, body)
	if err != nil {
		return err
	}
	if status >= 300 {
		return refusal(status, text)
	}
	_, err = fmt.Fprintln(d.out, taken)
	return err
}

// refusal is a no of the daemon, in its words.
func refusal(status int, text []byte) error {
	var p api.Problem
	if json.Unmarshal(text, &p) != nil || p.Title == "" {
		return &exit{exitShort, fmt.Sprintf("the daemon answers %d %s", status, http.StatusText(status))}
	}
	return &exit{exitShort, p.Title + ": " + p.Detail}
}

// stop is STOP. Whether or not it is confirmed, what it says is to be read.
func (d dialogue) stop() error {
	status, text, err := d.send(http.MethodPost, "stop", nil)
	if err != nil {
		return err
	}
	var off api.Off
	if status >= 300 || json.Unmarshal(text, &off) != nil {
		return refusal(status, text)
	}
	fmt.Fprintln(d.out, off.Text)
	if !off.Confirmed {
		return &exit{code: exitShort}
	}
	return nil
}

// show is how it stands, in sentences.
func (d dialogue) show() error {
	status, text, err := d.send(http.MethodGet, "state", nil)
	if err != nil {
		return err
	}
	var v view.State
	if status != http.StatusOK || json.Unmarshal(text, &v) != nil {
		return refusal(status, text)
	}
	_, err = io.WriteString(d.out, inWords(&v))
	return err
}

// inWords is a state as a person reads it.
func inWords(v *view.State) string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	if v.Simulated {
		line("SIMULATED: no real kettle.")
	}
	reading := "The temperature is unknown: treat it as hot."
	if t := v.Probe.Temperature; t != nil {
		reading = fmt.Sprintf("%.1f °C by the probe.", *t)
		if v.Probe.Hot {
			reading = fmt.Sprintf("HOT, %.1f °C by the probe.", *t)
		}
	}
	heat := "Not heating; still live: isolate before opening or reaching in."
	if v.Heating {
		heat = fmt.Sprintf("Heating, %.0f %% of full power.", 100*v.Duty)
	}
	line("%s: %s %s", v.Rig, reading, heat)
	line("%s", strings.TrimSpace(v.Sentence+" "+v.Next))
	if v.Forecast != nil {
		line("%s%s.", strings.ToUpper(v.Forecast.Text[:1]), v.Forecast.Text[1:])
	}
	if v.Trip != nil {
		line("Heat is cut and stays off: %s.", *v.Trip)
	}
	if v.Cut != nil {
		line("Heat is cut for now: %s.", *v.Cut)
	}
	for _, a := range v.Alarms {
		line("Alarm: %s", a.Text)
	}
	if p := v.Prompt; p != nil {
		line("\nYou are asked: %s", p.Text)
		switch {
		case p.Button == "":
		case p.Litres != nil:
			line("Go and look, then: mashward tell %s --litres %.1f (as read)", p.Wish, *p.Litres)
		default:
			line("Go and look, then: mashward tell %s", p.Wish)
		}
	}
	line("\nWhat can be told: %s.", strings.Join(append([]string{sayStop, saySeen}, v.Can...), ", "))
	return b.String()
}
