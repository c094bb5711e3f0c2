package api

import (
	"encoding/json"
	"errors"
	"net/http"

	"mashward/cmd/internal/ahead"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/profile/strict"
)

// Problem is an error as RFC 9457 has it.
type Problem struct {
	Type   string  `json:"type"` // relative: /problems/not-rehearsed
	Title  string  `json:"title"`
	Status int     `json:"status"`
	Detail string  `json:"detail"`           // what to do
	Faults []Fault `json:"faults,omitempty"` // of a file, each with its place
}

// Fault is one thing wrong with a file.
type Fault struct {
	File    string `json:"file"`
	Line    int    `json:"line"`   // from 1; 0: the file as a whole
	Column  int    `json:"column"` // from 1; 0: unknown
	What    string `json:"what"`
	Remedy  string `json:"remedy"`
	Warning bool   `json:"warning"` // it is said, and the file is used
	Text    string `json:"text"`    // all of it in one line
}

func faultsOf(faults []strict.Fault) []Fault {
	out := []Fault{}
	for _, f := range faults {
		out = append(out, Fault{f.File, f.Line, f.Column, f.What, f.Remedy, f.Warning, f.String()})
	}
	return out
}

const problemKind = "application/problem+json"

// problem is an answer that says no.
func problem(status int, name, title, detail string, faults ...Fault) answer {
	body, err := json.Marshal(Problem{"/problems/" + name, title, status, detail, faults})
	if err != nil {
		body = []byte("{}") // strings and integers: cannot be
	}
	return answer{status: status, kind: problemKind, body: body}
}

// bug is what must not happen. What it was is for the log, not for the net.
func bug() answer {
	out := problem(http.StatusInternalServerError, "internal", "Something went wrong in here",
		"The kettle is not affected. Read the daemon's log, and tell whoever maintains it.")
	out.again = true
	return out
}

// sayings are the answers to errors that the daemon names.
var sayings = []struct {
	err         error
	status      int
	name, title string
	retry       int
	again       bool
}{
	{daemon.ErrNoProfile, http.StatusNotFound, "no-such-profile", "No such profile", 0, true},
	{daemon.ErrName, http.StatusBadRequest, "bad-request", "The request cannot be used", 0, true},
	{daemon.ErrExists, http.StatusConflict, "profile-exists", "There is such a profile", 0, true},
	{daemon.ErrFull, http.StatusConflict, "folder-full", "The folder is full", 0, true},
	{daemon.ErrFolder, http.StatusInternalServerError, "folder-not-written", "The folder cannot be written", 0, true},
	{daemon.ErrUntuned, http.StatusConflict, "no-tuning-before", "No tuning to bring back", 0, true},
	{daemon.ErrNoBefore, http.StatusConflict, "no-tuning-before", "No tuning to bring back", 0, true},
	{daemon.ErrNotRehearsed, http.StatusConflict, "not-rehearsed", "Not rehearsed", 0, true},
	{daemon.ErrChanged, http.StatusConflict, "changed", "A file has changed", 0, true},
	{daemon.ErrRunning, http.StatusConflict, "batch-under-way", "A batch is under way", 0, true},
	{daemon.ErrWaiting, http.StatusConflict, "armed-for-later", "A batch is armed for later", 0, true},
	{daemon.ErrTripped, http.StatusConflict, "heat-cut-latched", "A heat cut is latched", 0, true},
	{daemon.ErrRelay, http.StatusConflict, "relay-unknown", "A relay does not answer", 0, true},
	{daemon.ErrNoAlarm, http.StatusNotFound, "no-such-alarm", "No such alarm", 0, true},
	{daemon.ErrNotOffered, http.StatusConflict, "not-offered", "No such batch is offered", 0, true},
	{daemon.ErrOtherRig, http.StatusConflict, "other-rig", "Another rig than it was armed with", 0, true},
	{daemon.ErrSpent, http.StatusConflict, "arming-used", "This arming has been used", 0, false},
	{daemon.ErrNonce, http.StatusForbidden, "not-armed", "Not armed", 0, false},
	{daemon.ErrStopped, http.StatusConflict, "stopped", "STOP came after it", 0, false},
	{daemon.ErrRehearsing, http.StatusTooManyRequests, "rehearsing", "Another rehearsal is under way", 3, true},
	{daemon.ErrAsking, http.StatusTooManyRequests, "what-if-under-way", "Another change is being looked at", 1, true},
	{ahead.ErrNotRunning, http.StatusConflict, "no-batch", "No batch is under way", 0, true},
	{ahead.ErrNoForecast, http.StatusUnprocessableEntity, "no-forecast", "It cannot be foreseen", 0, true},
	{ahead.ErrNotAChange, http.StatusBadRequest, "bad-request", "The request cannot be used", 0, true},
	{daemon.ErrTooSlow, http.StatusServiceUnavailable, "too-slow", "It took too long", 1, true},
	{daemon.ErrBusy, http.StatusServiceUnavailable, "busy", "Too many orders wait", 1, true},
	{daemon.ErrTooLate, http.StatusServiceUnavailable, "not-taken", "The loop did not take it", 1, true},
	{daemon.ErrDown, http.StatusServiceUnavailable, "loop-down", "The loop does not run", 0, true},
	{daemon.ErrSilent, http.StatusGatewayTimeout, "outcome-unknown", "The outcome is not known", 0, false},
}

// sorry turns an error of the daemon into an answer.
func (a *API) sorry(err error) answer {
	for _, s := range sayings {
		if errors.Is(err, s.err) {
			out := problem(s.status, s.name, s.title, err.Error())
			out.retry, out.again = s.retry, s.again
			return out
		}
	}
	if errors.Is(err, daemon.ErrDisabled) {
		return a.disabled()
	}
	var refused *daemon.Refusal
	if errors.As(err, &refused) {
		return problem(http.StatusUnprocessableEntity, "profile-refused", "This profile cannot be run on this rig",
			"Correct the file where the faults say, and look at it again.", faultsOf(refused.Faults)...)
	}
	var unstated *daemon.Unstated
	if errors.As(err, &unstated) {
		return problem(http.StatusUnprocessableEntity, "unstated", "A statement is missing", unstated.What)
	}
	var unkept *daemon.Unkept
	if errors.As(err, &unkept) {
		out := problem(http.StatusConflict, "expectation-broken", "The rehearsal broke what the profile expects", unkept.Error()+" (override_expectations).")
		out.again = true
		return out
	}
	a.o.Log.Error("api", "error", err)
	return bug()
}

// disabled says why nothing can be heated.
func (a *API) disabled() answer {
	last := a.o.Daemon.Latest()
	why := "The rig file has faults: correct it and start the daemon again. No line is driven from here."
	if last.Disabled != "" {
		why = last.Disabled
	}
	out := problem(http.StatusServiceUnavailable, "heat-disabled", "Heat is disabled", why, faultsOf(last.RigFaults)...)
	out.again = true
	return out
}
