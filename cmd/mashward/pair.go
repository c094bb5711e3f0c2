package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"time"

	"mashward/cmd/internal/config"
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
	if beyond, err := web.Reach(*at); err != nil || beyond {
		return usage("pair: --at %s is not an address of this machine alone: write 127.0.0.1 and the port that serve listens on", *at)
	}
	d := daemonHere(*at)
	switch {
	case *list:
		return d.list(c.out, "GET", "phones", nil)
	case *token != "":
		return d.token(c.out, *token)
	case *revoke != "":
		return d.list(c.out, "POST", "phones/revoke", api.ToRevoke{Phone: revoke})
	}
	var i api.Invitation
	if err := d.ask("POST", "phones/invite", struct{}{}, &i); err != nil {
		return err
	}
	showInvitation(c.out, c.colour, i.Code, i.Links, time.Duration(i.Valid*float64(time.Second)))
	return nil
}

// daemonHere is the address of a daemon on this machine, which believes whoever
// is here.
type daemonHere string

// askedFor is how long the daemon may take to answer.
const askedFor = 10 * time.Second

// list prints the phones that an answer has.
func (d daemonHere) list(out io.Writer, method, path string, body any) error {
	var all api.Phones
	if err := d.ask(method, path, body, &all); err != nil {
		return err
	}
	if len(all.Phones) == 0 {
		fmt.Fprintln(out, "No phone is paired.")
	}
	for _, p := range all.Phones {
		fmt.Fprintf(out, "%s  %s  %s\n", p.ID, p.Since, p.Name)
	}
	if !all.Open {
		fmt.Fprintln(out, "Only this machine is served: no phone is let in.")
	}
	return nil
}

// token pairs something that has no page to type a code into.
func (d daemonHere) token(out io.Writer, name string) error {
	var i api.Invitation
	if err := d.ask("POST", "phones/invite", struct{}{}, &i); err != nil {
		return err
	}
	var p api.Paired
	if err := d.ask("POST", "pair", api.ToPair{Code: &i.Code, Name: &name}, &p); err != nil {
		return err
	}
	fmt.Fprintln(out, p.Token)
	return nil
}

// ask asks the interface of the daemon.
func (d daemonHere) ask(method, path string, body, into any) error {
	text, err := json.Marshal(body)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(context.Background(), askedFor)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, method, "http://"+string(d)+api.Prefix+path, bytes.NewReader(text))
	if err != nil {
		return err
	}
	r.Header.Set("Content-Type", "application/json")
	r.Close = true
	answer, err := d.exchange(ctx, r)
	if err != nil {
		return &exit{exitDevice, fmt.Sprintf("no daemon answers at %s (%v): start `mashward serve`, or name its address with --at", string(d), err)}
	}
	defer answer.Body.Close()
	if text, err = io.ReadAll(io.LimitReader(answer.Body, 1<<20)); err != nil {
		return err
	}
	if answer.StatusCode != http.StatusOK {
		var p api.Problem
		if json.Unmarshal(text, &p) != nil || p.Detail == "" {
			return errors.New("the daemon answers " + answer.Status)
		}
		return &exit{exitShort, "pair: " + p.Detail}
	}
	if err := json.Unmarshal(text, into); err != nil {
		return &exit{config.ExitIO, "what answers at " + string(d) + " is not mashward: " + err.Error()}
	}
	return nil
}

// exchange is one request over one connection. The client of package net/http
// would heed proxies of the environment, and make the program half a megabyte larger.
func (d daemonHere) exchange(ctx context.Context, r *http.Request) (*http.Response, error) {
	conn, err := new(net.Dialer).DialContext(ctx, "tcp", string(d))
	if err != nil {
		return nil, err
	}
	context.AfterFunc(ctx, func() { _ = conn.Close() }) // also when all has been read
	if err := r.Write(conn); err != nil {
		return nil, err
	}
	return http.ReadResponse(bufio.NewReader(conn), r)
}
