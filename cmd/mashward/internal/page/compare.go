package page

import (
	"errors"
	"net/http"
	"path/filepath"
	"slices"

	"mashward/cmd/internal/account"
	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller/record"
)

// comparePage is two past batches side by side.
type comparePage struct {
	base
	account.Table
}

// compare puts two records side by side.
func (s *site) compare(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	var both [2]account.Account
	for i, id := range []string{q.Get("a"), q.Get("b")} {
		if id == "" {
			s.refuse(w, r, http.StatusBadRequest, "Choose two batches to compare.")
			return
		}
		of, err := s.account(id)
		switch {
		case errors.Is(err, errNoRecord):
			s.refuse(w, r, http.StatusNotFound, "There is no such record.")
			return
		case err != nil:
			s.o.Log.Error("record", "id", id, "error", err)
			s.refuse(w, r, http.StatusInternalServerError, "A record cannot be read. It is left as it is.")
			return
		}
		both[i] = of
	}
	c := account.Compare(&both[0], &both[1])
	m := comparePage{base: s.base(r, "Two batches")}
	m.Here = "/records" // a change of scale leads back to a path alone
	m.Table = c.Table(account.Scale{Sign: m.Scale.Sign(), Of: m.Scale.of, Gap: m.Scale.gap, Words: m.Scale.words})
	s.show(w, http.StatusOK, "compare.html", m)
}

var errNoRecord = errors.New("there is no such record")

// account reads one record of the folder, one at a time: it is work, and the loop
// shares the processor.
func (s *site) account(id string) (account.Account, error) {
	if s.o.Records == "" {
		return account.Account{}, errNoRecord
	}
	ids, err := recordsIn(s.o.Records)
	if err != nil {
		return account.Account{}, err
	}
	if !slices.Contains(ids, id) {
		return account.Account{}, errNoRecord
	}
	s.reading.Lock()
	defer s.reading.Unlock()
	f, err := record.View(filepath.Join(s.o.Records, id+daemon.RecordSuffix))
	if err != nil {
		return account.Account{}, err
	}
	defer f.Close()
	return account.Read(f)
}
