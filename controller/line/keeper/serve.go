package keeper

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"sync"
	"time"

	"mashward/controller/line"
	"mashward/controller/unit"
)

// server is the keeper's side.
type server struct {
	line  *line.Leased
	began time.Time

	mu  sync.Mutex // whole lines only
	out io.Writer
}

// Serve keeps a line for whoever is at the other end of in and out, until in
// ends. Then it drives the line off. The error says that off was not confirmed.
func Serve(d line.Driver, in io.Reader, out io.Writer) error {
	s := &server{line: line.Lease(d), began: time.Now(), out: out}
	if err := s.line.Hold(unit.Off, line.MaxLease); err != nil {
		Fail(out, err)
		return s.line.Close()
	}
	s.say("ready %d", s.now())
	lines := bufio.NewScanner(in)
	lines.Buffer(make([]byte, longest), longest)
	for lines.Scan() && s.take(lines.Text()) {
	}
	err := s.line.Close()
	for waited := time.Duration(0); err != nil && waited < givesUpAfter; waited += retryAfter {
		time.Sleep(retryAfter) // nobody is there any more who could ask again
		err = d.Set(unit.Off)
	}
	return err
}

// Fail tells the daemon why there is no line to keep.
func Fail(out io.Writer, why error) {
	kind := "other"
	for word, known := range kinds {
		if errors.Is(why, known) {
			kind = word
		}
	}
	fmt.Fprintf(out, "failed %s %s\n", kind, oneLine(why))
}

// now is the keeper's own clock, in milliseconds.
func (s *server) now() int64 { return time.Since(s.began).Milliseconds() }

// take takes one request. It never waits for the driver. What it does not
// understand ends the service, for nobody knows what the other end wants.
func (s *server) take(text string) bool {
	words := strings.Fields(text)
	switch {
	case len(words) == 3 && words[0] == "on":
		decided, err := strconv.ParseInt(words[2], 10, 64)
		if age := s.now() - decided; err != nil || decided < 0 || age < 0 || age > line.MaxLease.Milliseconds() {
			s.line.Drop()
			go s.answer(words[1], ErrOld)
			return true
		}
		s.line.Rearm()
		go func() { s.answer(words[1], s.line.Hold(unit.On, line.MaxLease)) }()
		return true
	case len(words) == 2 && words[0] == "off":
		// Before the next request is read: an on that has been taken but not
		// carried out yet must not come after this.
		s.line.Drop()
		go func() { s.answer(words[1], s.line.Hold(unit.Off, line.MaxLease)) }()
		return true
	}
	return false
}

func (s *server) answer(number string, err error) {
	if err != nil {
		s.say("no %s %d %s", number, s.now(), oneLine(err))
		return
	}
	s.say("ok %s %d", number, s.now())
}

// say writes one line. If nobody reads it any more, the end of in will tell.
func (s *server) say(format string, args ...any) {
	s.mu.Lock()
	defer s.mu.Unlock()
	fmt.Fprintf(s.out, format+"\n", args...)
}

// oneLine is an error's text in one short line.
func oneLine(err error) string {
	text := strings.Join(strings.Fields(err.Error()), " ")
	return text[:min(len(text), longest/2)]
}
