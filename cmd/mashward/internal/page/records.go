package page

import (
	"cmp"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller/record"
)

// mostRecords is how many of the newest are listed.
const mostRecords = 60

// past is one record of the folder.
type past struct {
	ID, Profile, Began string
	Simulated          bool
	Broken             bool // its head cannot be read
}

type recordsPage struct {
	base
	Kept bool
	Past []past
	Pair []choice // those that can be compared; nil: fewer than two
	More int
}

// choice is one batch to compare.
type choice struct {
	ID, Words     string
	First, Second bool // of the list
}

func (s *site) records(w http.ResponseWriter, r *http.Request) {
	m := recordsPage{base: s.base(r, "Past batches"), Kept: s.o.Records != ""}
	if m.Kept {
		ids, err := recordsIn(s.o.Records)
		if err != nil {
			s.o.Log.Error("records", "error", err)
			s.refuse(w, r, http.StatusInternalServerError, "The folder of records cannot be read.")
			return
		}
		m.More = max(0, len(ids)-mostRecords)
		for _, id := range ids[:len(ids)-m.More] {
			m.Past = append(m.Past, headOf(s.o.Records, id))
		}
	}
	m.Pair = choices(m.Past)
	s.show(w, http.StatusOK, "records.html", m)
}

func choices(all []past) (out []choice) {
	for _, p := range all {
		if p.Broken {
			continue
		}
		c := choice{ID: p.ID, Words: cmp.Or(p.Began, p.ID) + ", " + cmp.Or(p.Profile, "without a name"), First: len(out) == 0, Second: len(out) == 1}
		if p.Simulated {
			c.Words += " (simulated)"
		}
		out = append(out, c)
	}
	if len(out) < 2 {
		return nil
	}
	return out
}

// recordsIn are the ids of a folder's records, the newest first: they begin
// with the time of arming.
func recordsIn(folder string) (ids []string, err error) {
	names, err := os.ReadDir(folder)
	if err != nil {
		return nil, err
	}
	for _, n := range names {
		if id, ok := strings.CutSuffix(n.Name(), daemon.RecordSuffix); ok && n.Type().IsRegular() {
			ids = append(ids, id)
		}
	}
	slices.Sort(ids)
	slices.Reverse(ids)
	return ids, nil
}

// headOf reads what a record is of, not the whole of it.
func headOf(folder, id string) past {
	p := past{ID: id, Broken: true}
	f, err := record.View(filepath.Join(folder, id+daemon.RecordSuffix))
	if err != nil {
		return p
	}
	defer f.Close()
	reader, err := record.Read(f)
	if err != nil {
		return p
	}
	h := reader.Head
	return past{ID: id, Profile: h.Profile, Began: strings.Replace(strings.TrimSuffix(h.Began, "Z"), "T", " ", 1), Simulated: h.Simulated}
}
