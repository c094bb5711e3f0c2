package api

import (
	"net/http"
	"time"

	"mashward/cmd/mashward/internal/pairing"
	"mashward/cmd/mashward/internal/web"
)

// Phone is one that is paired.
type Phone struct {
	ID    string `json:"id"`
	Name  string `json:"name"`
	Since string `json:"since"` // by the clock of this machine
	Yours bool   `json:"yours"` // it is the one that asks
}

// Phones is who may come in from beyond this machine.
type Phones struct {
	Open   bool    `json:"open"` // anybody may who is paired
	Phones []Phone `json:"phones"`
}

func (a *API) phones(r *http.Request) answer {
	mine := pairing.Who(r.Context()).Phone
	out := Phones{Open: a.o.Pairing.Open(), Phones: []Phone{}}
	for _, p := range a.o.Pairing.Phones() {
		out.Phones = append(out.Phones, Phone{p.ID, p.Name, p.Since.UTC().Format(time.RFC3339), mine != nil && mine.ID == p.ID})
	}
	return found(out)
}

// ToPair is the code that a phone brings, and how it wants to be called.
type ToPair struct {
	Code *string `json:"code"`
	Name *string `json:"name"`
}

// Paired is what a phone is known by from now on. The token is told this once.
type Paired struct {
	ID    string `json:"id"`
	Name  string `json:"name"`
	Token string `json:"token"`
}

// pair heeds no key: a token is told to one, and whoever is not paired must not
// fill the memory that others' presses are kept in.
func (a *API) pair() http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		body, bad := read(w, r)
		if bad != nil {
			bad.write(w)
			return
		}
		a.paired(r, body).write(w)
	}
}

func (a *API) paired(r *http.Request, body []byte) answer {
	var ask ToPair
	if err := decode(body, &ask); err != nil {
		return unreadable(err)
	}
	if ask.Code == nil || ask.Name == nil {
		return missing("Give code, as it is shown on the machine that mashward runs on, and a name for the list of phones.")
	}
	phone, token, err := a.o.Pairing.Pair(web.From(r), *ask.Code, *ask.Name)
	if err != nil {
		return a.sorry(err)
	}
	return found(Paired{phone.ID, phone.Name, token})
}

// Invitation is what a phone is let in with.
type Invitation struct {
	Code  string   `json:"code"`
	Links []string `json:"links"`
	Valid float64  `json:"valid_seconds"`
}

// invite makes a code for whoever is at this machine: it is shown there.
func (a *API) invite(r *http.Request, body []byte) answer {
	if err := decode(body, &struct{}{}); err != nil {
		return unreadable(err)
	}
	if !pairing.Who(r.Context()).Here {
		return a.sorry(pairing.ErrNotHere)
	}
	i, err := a.o.Pairing.Invite()
	if err != nil {
		return a.sorry(err)
	}
	out := found(Invitation{i.Code, i.Links, i.Valid.Seconds()})
	out.again = true
	return out
}

// ToRevoke is the phone that is to be paired no more.
type ToRevoke struct {
	Phone *string `json:"phone"`
}

func (a *API) revoke(r *http.Request, body []byte) answer {
	var ask ToRevoke
	if err := decode(body, &ask); err != nil {
		return unreadable(err)
	}
	if ask.Phone == nil {
		return missing("Say which phone, by its id.")
	}
	if err := a.o.Pairing.Revoke(*ask.Phone); err != nil {
		return a.sorry(err)
	}
	return a.phones(r)
}
