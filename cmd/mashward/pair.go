package main

import (
	"encoding/json"
	"fmt"
	"net/http"
	"time"

	"mashward/cmd/mashward/internal/api"
	"mashward/cmd/mashward/internal/web"
)

// runPair is `mashward pair`.
func runPair(c *call) error {
	o := newOptions("pair", "[options]",
		"Asks the daemon on this machine for a code to pair a phone with, and shows it with\n"+
			"a picture to scan. The daemon was started with serve --listen 0.0.0.0:8973 or the\n"+
			"like. A code is good for 10 minutes, once; another one makes it void.", c.out)
	at := o.String("at", defaultAddress, "`address` of the daemon, of this machine")
	list := o.Bool("list", false, "list the phones that are paired")
	token := o.String("token", "", "pair a program or a calendar under this `name`, and print its token: a password")
	revoke := o.String("revoke", "", "take the phone with this `id` off the list, at once")
	if done, err := o.parse(c.args); done || err != nil {
		return err
	}
	if len(o.words) > 0 {
		return usage("pair: what is %s? It takes no words", o.words[0])
	}
	if *list && *revoke != "" || *token != "" && (*list || *revoke != "") {
		return usage("pair: --list, --token or --revoke, one at a time")
	}
	if err := web.Loopback(*at); err != nil {
		return usage("pair: --at: %v", err)
	}
	d := dialogue{call: c, at: "http://" + *at + api.Prefix}
	switch {
	case *list:
		return d.phones(http.MethodGet, "phones", nil)
	case *token != "":
		return d.token(*token)
	case *revoke != "":
		return d.phones(http.MethodPost, "phones/revoke", api.ToRevoke{Phone: revoke})
	}
	i, err := answerTo[api.Invitation](d, http.MethodPost, "phones/invite", struct{}{})
	if err != nil {
		return err
	}
	showInvitation(c.out, c.colour, i.Code, i.Links, time.Duration(i.Valid*float64(time.Second)))
	return nil
}

// phones prints those that an answer has.
func (d dialogue) phones(method, path string, body any) error {
	all, err := answerTo[api.Phones](d, method, path, body)
	if err != nil {
		return err
	}
	if len(all.Phones) == 0 {
		fmt.Fprintln(d.out, "No phone is paired.")
	}
	for _, p := range all.Phones {
		fmt.Fprintf(d.out, "%s  %s  %s\n", p.ID, p.Since, p.Name)
	}
	if !all.Open {
		fmt.Fprintln(d.out, "Only this machine is served: no phone is let in.")
	}
	return nil
}

// token pairs something that has no page to type a code into.
func (d dialogue) token(name string) error {
	i, err := answerTo[api.Invitation](d, http.MethodPost, "phones/invite", struct{}{})
	if err != nil {
		return err
	}
	p, err := answerTo[api.Paired](d, http.MethodPost, "pair", api.ToPair{Code: &i.Code, Name: &name})
	if err != nil {
		return err
	}
	fmt.Fprintln(d.out, p.Token)
	return nil
}

// answerTo is a good answer of the daemon, or its refusal.
func answerTo[T any](d dialogue, method, path string, body any) (v T, err error) {
	status, text, err := d.send(method, path, body)
	if err != nil {
		return v, err
	}
	if status != http.StatusOK || json.Unmarshal(text, &v) != nil {
		return v, refusal(status, text)
	}
	return v, nil
}
