package late

import "time"

// Told is an account in the form in which programs get it. Seconds are whole, and
// the parts add up to the whole: what rounding leaves is settling's.
type Told struct {
	Text    string           `json:"text"` // for a reader
	Seconds int64            `json:"seconds"`
	By      map[string]int64 `json:"by_cause_seconds"` // every cause
	Parts   []ToldPart       `json:"parts"`            // the largest first
}

// ToldPart is what one cause took at one place.
type ToldPart struct {
	Cause   string `json:"cause"`
	Place   string `json:"place"`
	Step    int    `json:"step"`
	Seconds int64  `json:"seconds"`
	Text    string `json:"text"`
}

// Tell is the account for programs and pages.
func (a *Account) Tell(p *Planned) *Told {
	t := &Told{Text: a.Words(p), Seconds: whole(a.Late), By: map[string]int64{}, Parts: []ToldPart{}}
	for c := range Cause(Causes) {
		t.By[c.String()] = 0
	}
	rest := t.Seconds
	for _, part := range a.Parts {
		n := whole(part.Took)
		t.By[part.Cause.String()] += n
		rest -= n
		if n != 0 {
			t.Parts = append(t.Parts, ToldPart{part.Cause.String(), part.Place.String(), int(part.Step), n, part.Words(p)})
		}
	}
	if rest != 0 {
		t.By[Settling.String()] += rest
		t.Parts = append(t.Parts, ToldPart{Settling.String(), Rest.String(), 0, rest, "what is left by rounding"})
	}
	return t
}

func whole(d time.Duration) int64 { return int64(d.Round(time.Second) / time.Second) }
