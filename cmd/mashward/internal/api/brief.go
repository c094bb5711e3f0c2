package api

import (
	"mashward/cmd/internal/account"
	"mashward/controller/record"
)

// Brief is a record in one line.
type Brief struct {
	ID        string  `json:"id"`
	Began     string  `json:"began"` // RFC 3339
	Profile   string  `json:"profile"`
	Simulated bool    `json:"simulated"`
	UnderWay  bool    `json:"under_way"`
	Outcome   string  `json:"outcome"` // complete, stopped, aborted, unfinished, unreadable
	Reason    string  `json:"reason"`
	Duration  float64 `json:"duration_seconds"`
	Switches  int     `json:"element_switches"`
}

func briefOf(id string, underWay bool, s *record.Summary) Brief {
	return Brief{
		ID: id, Began: s.Head.Began, Profile: s.Head.Profile, Simulated: s.Head.Simulated, UnderWay: underWay,
		Outcome: account.OutcomeOf(s), Reason: s.Reason.String(), Duration: s.Duration.Seconds(), Switches: s.Switches,
	}
}

// Record is what happened in one batch.
type Record struct {
	ID       string `json:"id"`
	UnderWay bool   `json:"under_way"`
	account.Account
}
