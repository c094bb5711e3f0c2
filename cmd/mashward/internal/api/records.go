package api

import (
	"cmp"
	"context"
	"errors"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"mashward/cmd/mashward/internal/daemon"
	"mashward/controller/record"
)

const (
	// readers is how many records are read at one time: it is work, and the
	// loop shares the processor.
	readers = 2
	// mostRecords is how many a list names, the newest.
	mostRecords = 200
	// rowsWithin is how long a client may take for one piece of a table.
	rowsWithin = 5 * time.Second
)

var errNoRecord = errors.New("there is no such record")

// shelf remembers the briefs of records that will not change any more.
type shelf struct {
	busy chan struct{} // one for each record being read

	mu    sync.Mutex
	known map[string]known
}

type known struct {
	size  int64
	mod   time.Time
	brief Brief
}

// records lists the records, newest first.
func (a *API) records(r *http.Request) answer {
	out := struct {
		Records []Brief `json:"records"`
	}{[]Brief{}}
	names, err := a.recordNames()
	if err != nil {
		return a.sorry(err)
	}
	for _, id := range names {
		b, err := a.brief(r.Context(), id)
		if errors.Is(err, context.Canceled) {
			return a.sorry(err)
		}
		if err != nil {
			continue // gone meanwhile
		}
		out.Records = append(out.Records, b)
	}
	return found(out)
}

// recordNames are the ids in the folder. They begin with the date, so that the
// order of names is that of time.
func (a *API) recordNames() ([]string, error) {
	if a.o.Records == "" {
		return nil, nil
	}
	entries, err := os.ReadDir(a.o.Records)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	names := []string{}
	for _, e := range entries {
		if id, ok := strings.CutSuffix(e.Name(), daemon.RecordSuffix); ok && goodName(id) && e.Type().IsRegular() {
			names = append(names, id)
		}
	}
	slices.SortFunc(names, func(x, y string) int { return cmp.Compare(y, x) })
	return names[:min(len(names), mostRecords)], nil
}

// goodName keeps names to what cannot lead out of the folder.
func goodName(id string) bool {
	ok := func(c rune) bool {
		return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '-' || c == '_'
	}
	return id != "" && len(id) <= 64 && strings.IndexFunc(id, func(c rune) bool { return !ok(c) }) < 0
}

// brief is one line about a record, from memory where the file has not changed.
func (a *API) brief(ctx context.Context, id string) (Brief, error) {
	about, err := os.Lstat(a.path(id))
	if err != nil {
		return Brief{}, err
	}
	a.shelf.mu.Lock()
	k, ok := a.shelf.known[id]
	a.shelf.mu.Unlock()
	if ok && k.size == about.Size() && k.mod.Equal(about.ModTime()) {
		return k.brief, nil
	}
	s, err := a.summary(ctx, id)
	if errors.Is(err, record.ErrNoHead) {
		return Brief{ID: id, Outcome: "unreadable", UnderWay: a.underWay(id)}, nil
	}
	if err != nil {
		return Brief{}, err
	}
	b := briefOf(id, a.underWay(id), &s)
	if !b.UnderWay {
		a.shelf.keep(id, known{about.Size(), about.ModTime(), b})
	}
	return b, nil
}

func (s *shelf) keep(id string, k known) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.known == nil || len(s.known) >= 2*mostRecords {
		s.known = map[string]known{}
	}
	s.known[id] = k
}

func (a *API) path(id string) string { return filepath.Join(a.o.Records, id+daemon.RecordSuffix) }

// underWay tells whether this is the batch that runs.
func (a *API) underWay(id string) bool {
	s := a.o.Daemon.Latest()
	return s.Batch != nil && s.Batch.ID == id && !s.Decision.Mode.Ended()
}

// open lets f read one record, when it is its turn.
func (a *API) open(ctx context.Context, id string, f func(*record.Reader) error) error {
	return a.storage(ctx, id, func(s record.Storage) error {
		r, err := record.Read(s)
		if err != nil {
			return err
		}
		return f(r)
	})
}

// storage is the same, for what is read more than once.
func (a *API) storage(ctx context.Context, id string, f func(record.Storage) error) error {
	if a.o.Records == "" || !goodName(id) {
		return errNoRecord
	}
	select {
	case a.shelf.busy <- struct{}{}:
		defer func() { <-a.shelf.busy }()
	case <-ctx.Done():
		return ctx.Err()
	}
	about, err := os.Lstat(a.path(id))
	if err != nil || !about.Mode().IsRegular() {
		return errNoRecord
	}
	file, err := record.View(a.path(id))
	if err != nil {
		return err
	}
	defer file.Close()
	return f(file)
}

func (a *API) summary(ctx context.Context, id string) (s record.Summary, err error) {
	err = a.open(ctx, id, func(r *record.Reader) (e error) {
		s, e = record.Summarize(r)
		return e
	})
	return s, err
}

func (a *API) record(r *http.Request) answer {
	id := r.PathValue("id")
	of, err := a.account(r.Context(), id)
	if err != nil {
		return a.noRecord(err)
	}
	return found(Record{id, a.underWay(id), of})
}

// noRecord is why a record cannot be shown.
func (a *API) noRecord(err error) answer {
	switch {
	case errors.Is(err, errNoRecord):
		return problem(http.StatusNotFound, "no-such-record", "No such record", "Ask for the list of records.")
	case errors.Is(err, record.ErrNoHead):
		return problem(http.StatusInternalServerError, "record-unreadable", "The record cannot be read",
			"It does not begin as a record: power may have failed as it began. The file is left as it is.")
	}
	return a.sorry(err)
}

// ticks streams all ticks of a record as a table.
func (a *API) ticks(w http.ResponseWriter, r *http.Request) {
	out := &rows{w: w, rc: http.NewResponseController(w)}
	id := r.PathValue("id")
	err := a.open(r.Context(), id, func(rd *record.Reader) error {
		w.Header().Set("Content-Type", "text/csv; charset=utf-8; header=present")
		w.Header().Set("Content-Disposition", `attachment; filename="`+id+`.csv"`)
		if r.Method == http.MethodHead {
			return nil
		}
		return record.ExportCSV(out, rd)
	})
	switch {
	case err == nil:
	case out.begun:
		a.o.Log.Warn("record", "id", id, "error", err)
		panic(http.ErrAbortHandler) // the rows so far are true; that they are not all must be seen
	default:
		w.Header().Del("Content-Disposition")
		a.noRecord(err).write(w)
	}
}

// rows gives a client so long for each piece, and not for the whole.
type rows struct {
	w     http.ResponseWriter
	rc    *http.ResponseController
	begun bool
}

// Write implements io.Writer.
func (o *rows) Write(p []byte) (int, error) {
	o.begun = true
	if err := o.rc.SetWriteDeadline(time.Now().Add(rowsWithin)); err != nil && !errors.Is(err, http.ErrNotSupported) {
		return 0, err
	}
	return o.w.Write(p)
}
