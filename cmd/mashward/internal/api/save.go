package api

import "net/http"

// ToSave is a profile's text, and the name that its file is to have.
type ToSave struct {
	ID   *string `json:"id"`
	Text *string `json:"text"`
}

// draft is the name of a text that has none.
const draft = "draft"

// checkText says what a text makes, and what is wrong with it. Nothing is kept.
func (a *API) checkText(_ *http.Request, body []byte) answer {
	var ask ToSave
	if err := decode(body, &ask); err != nil {
		return unreadable(err)
	}
	switch {
	case ask.Text == nil:
		return missing("Give text, the profile as it would be written.")
	case ask.ID != nil:
		return missing("id goes with profiles alone: a text that is only looked at has none.")
	}
	b, faults, err := a.o.Daemon.Draft(draft, []byte(*ask.Text))
	if err != nil {
		return a.sorry(err)
	}
	return found(a.shown(draft, b, faults))
}

// saveText keeps a text as a new file of the folder.
func (a *API) saveText(_ *http.Request, body []byte) answer {
	var ask ToSave
	if err := decode(body, &ask); err != nil {
		return unreadable(err)
	}
	if ask.ID == nil || ask.Text == nil {
		return missing("Give id, the name of the new file without its ending, and text.")
	}
	if err := a.o.Daemon.Save(*ask.ID, []byte(*ask.Text)); err != nil {
		return a.sorry(err)
	}
	b, faults, err := a.o.Daemon.Plan(*ask.ID)
	if err != nil {
		return a.sorry(err)
	}
	return found(a.shown(*ask.ID, b, faults))
}
