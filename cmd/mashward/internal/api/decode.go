package api

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"mime"
	"net/http"
	"reflect"
	"strconv"
	"strings"
	"unicode/utf8"
)

const (
	maxBody  = 64 << 10 // bytes
	maxDepth = 16       // of nested objects and lists
)

// read takes the body of a request that must be JSON. bad is nil if it could
// be read.
func read(w http.ResponseWriter, r *http.Request) (body []byte, bad *answer) {
	refuse := func(status int, name, title, detail string) ([]byte, *answer) {
		out := problem(status, name, title, detail)
		return nil, &out
	}
	if !isJSON(r.Header.Get("Content-Type")) {
		return refuse(http.StatusUnsupportedMediaType, "not-json", "JSON only", "Send Content-Type: application/json, in UTF-8.")
	}
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxBody))
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		return refuse(http.StatusRequestEntityTooLarge, "too-large", "Too large", fmt.Sprintf("Send at most %d KiB.", maxBody>>10))
	}
	if err != nil {
		return refuse(http.StatusBadRequest, "bad-request", "The request cannot be used", "The body ended early: send it again.")
	}
	return body, nil
}

// isJSON tells whether that is the one kind of content that is read. No form
// of a web page can send it.
func isJSON(kind string) bool {
	media, params, err := mime.ParseMediaType(kind)
	if err != nil || media != jsonKind {
		return false
	}
	charset, given := params["charset"]
	return !given || strings.EqualFold(charset, "utf-8")
}

// decode reads one JSON object into a struct of pointers, strictly: a request
// that only nearly says what was meant must not do anything. The error says
// what is wrong and what to do.
func decode(text []byte, into any) error {
	switch {
	case !utf8.Valid(text):
		return errors.New("it is not UTF-8: send UTF-8")
	case !json.Valid(text):
		return errors.New("it is not one JSON value: check commas, quotes and braces")
	}
	s := scan{d: json.NewDecoder(bytes.NewReader(text))}
	s.d.UseNumber()
	if err := s.value(1); err != nil {
		return err
	}
	names := namesOf(into)
	for _, key := range s.keys {
		if !names[key] {
			return fmt.Errorf("there is no %s: look into openapi.json for what is asked", short(key))
		}
	}
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	err := d.Decode(into)
	var wrong *json.UnmarshalTypeError
	if errors.As(err, &wrong) && wrong.Field != "" {
		return fmt.Errorf("%s cannot be a %s: look into openapi.json for what it is", short(wrong.Field), wrong.Value)
	}
	if err != nil {
		return errors.New("it must be a JSON object: look into openapi.json for what is asked")
	}
	return nil
}

// scan looks at every token for what encoding/json lets pass.
type scan struct {
	d    *json.Decoder
	keys []string // of the outermost object
}

// value checks one value; the outermost has depth 1.
func (s *scan) value(depth int) error {
	t, err := s.d.Token()
	if err != nil {
		return err
	}
	switch t := t.(type) {
	case nil:
		return errors.New("null says nothing: leave the key out, or give a value")
	case json.Number:
		return finite(t)
	case json.Delim:
		if depth > maxDepth {
			return fmt.Errorf("it is nested more than %d deep: no request needs that", maxDepth)
		}
		if t == '{' {
			return s.object(depth)
		}
		for s.d.More() {
			if err := s.value(depth + 1); err != nil {
				return err
			}
		}
		_, err = s.d.Token()
	}
	return err
}

func (s *scan) object(depth int) error {
	seen := map[string]bool{}
	for s.d.More() {
		t, err := s.d.Token()
		if err != nil {
			return err
		}
		key, _ := t.(string)
		if seen[key] {
			return fmt.Errorf("%s stands there twice: which one is meant?", short(key))
		}
		seen[key] = true
		if depth == 1 {
			s.keys = append(s.keys, key)
		}
		if err := s.value(depth + 1); err != nil {
			return err
		}
	}
	_, err := s.d.Token()
	return err
}

// finite refuses what is no number any more once it is read.
func finite(n json.Number) error {
	if x, err := strconv.ParseFloat(n.String(), 64); err != nil || math.IsInf(x, 0) {
		return fmt.Errorf("%s is out of the range of numbers", short(n.String()))
	}
	return nil
}

// namesOf are the keys that a struct takes, letter by letter: encoding/json
// would take them in any case.
func namesOf(into any) map[string]bool {
	names := map[string]bool{}
	t := reflect.TypeOf(into).Elem()
	for i := range t.NumField() {
		names[t.Field(i).Tag.Get("json")] = true
	}
	return names
}

// short quotes what came from outside, for a message.
func short(s string) string {
	const most = 64
	if len(s) > most {
		s = strings.ToValidUTF8(s[:most], "") + "..."
	}
	return strconv.Quote(s)
}

// unreadable is the answer to a body that decode refuses.
func unreadable(err error) answer {
	return problem(http.StatusBadRequest, "bad-request", "The request cannot be used", "The body: "+err.Error()+".")
}

// missing is the answer to a key that has to be there, or a figure out of range.
func missing(what string) answer {
	return problem(http.StatusBadRequest, "bad-request", "The request cannot be used", what)
}
