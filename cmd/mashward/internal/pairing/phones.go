package pairing

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"strings"
	"sync/atomic"
	"time"
	"unicode"

	"mashward/controller/record"
)

const (
	// MaxPhones is how many may be paired at a time.
	MaxPhones = 32
	// MaxName is how long a phone's name may be, in characters.
	MaxName = 40

	tokenBytes = 32 // 256 bits, by crypto/rand
	idBytes    = 8
)

// What can go wrong with a phone.
var (
	ErrNoPhone = errors.New("there is no such phone: it may have been taken off the list already")
	ErrFull    = fmt.Errorf("%d phones are paired, and that is the most: take one off the list first", MaxPhones)
)

// Phone is one that is paired: a browser, or a program.
type Phone struct {
	ID    string    // to name it by; no secret
	Name  string    // as its owner called it
	Since time.Time // by the wall clock of this machine
}

// entry is a phone as it is kept.
type entry struct {
	Phone
	hash    [sha256.Size]byte // of its token
	present context.Context   // done when it is revoked
	leave   context.CancelFunc
}

// kept is the file, and line one phone of it.
type kept struct {
	Phones []line `json:"phones"`
}

type line struct {
	ID    string    `json:"id"`
	Name  string    `json:"name"`
	Since time.Time `json:"since"`
	Hash  string    `json:"token_sha256"`
}

// list is the phones, oldest first. Its owner guards it, but for find and now,
// which wait for nobody: not for a disk on which it is written.
type list struct {
	path string // "" keeps them in memory only
	all  atomic.Pointer[[]*entry]
}

// now are the phones as they are; not to be changed.
func (l *list) now() []*entry {
	if all := l.all.Load(); all != nil {
		return *all
	}
	return nil
}

// read takes the list from its file. A file that is not there is an empty list;
// of one that is not as it was written nobody is believed.
func (l *list) read() error {
	text, err := os.ReadFile(l.path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	var file kept
	if err := json.Unmarshal(text, &file); err != nil {
		return fmt.Errorf("%s: %w", l.path, err)
	}
	if len(file.Phones) > MaxPhones {
		return fmt.Errorf("%s: %d phones, more than %d", l.path, len(file.Phones), MaxPhones)
	}
	var all []*entry
	for _, f := range file.Phones {
		hash, err := hex.DecodeString(f.Hash)
		if err != nil || len(hash) != sha256.Size || f.ID == "" {
			return fmt.Errorf("%s: the line of a phone is not as it was written", l.path)
		}
		all = append(all, newEntry(Phone{f.ID, goodName(f.Name), f.Since}, [sha256.Size]byte(hash)))
	}
	l.all.Store(&all)
	return nil
}

func newEntry(p Phone, hash [sha256.Size]byte) *entry {
	e := &entry{Phone: p, hash: hash}
	e.present, e.leave = context.WithCancel(context.Background())
	return e
}

// store writes the list, readable by its owner alone.
func (l *list) store(all []*entry) error {
	if l.path == "" {
		return nil
	}
	file := kept{Phones: []line{}}
	for _, e := range all {
		file.Phones = append(file.Phones, line{e.ID, e.Name, e.Since, hex.EncodeToString(e.hash[:])})
	}
	text, err := json.MarshalIndent(file, "", " ")
	if err != nil {
		return err
	}
	return record.ReplacePrivate(l.path, append(text, '\n'))
}

// add pairs a phone and gives its token, which is kept nowhere.
func (l *list) add(name string, now time.Time) (Phone, string, error) {
	if len(l.now()) >= MaxPhones {
		return Phone{}, "", ErrFull
	}
	token, hash := newToken()
	p := Phone{ID: strings.ToLower(hex.EncodeToString(random(idBytes))), Name: goodName(name), Since: now.UTC().Round(0).Truncate(time.Second)}
	all := append(slices.Clone(l.now()), newEntry(p, hash))
	if err := l.store(all); err != nil {
		return Phone{}, "", err
	}
	l.all.Store(&all)
	return p, token, nil
}

// revoke takes a phone off the list. It is off even where that cannot be
// written: then the error says that it would be back after a restart.
func (l *list) revoke(id string) error {
	all := l.now()
	i := slices.IndexFunc(all, func(e *entry) bool { return e.ID == id })
	if i < 0 {
		return ErrNoPhone
	}
	gone := all[i]
	all = slices.Delete(slices.Clone(all), i, i+1)
	l.all.Store(&all)
	gone.leave() // behind it: whoever finds the phone no more is not let in, who was in is out
	return l.store(all)
}

// find is the phone with a token. It takes as long whichever it is, and whether
// or not there is one.
func (l *list) find(token string) *entry {
	hash := hashOf(token)
	var found *entry
	for _, e := range l.now() {
		if subtle.ConstantTimeCompare(hash[:], e.hash[:]) == 1 {
			found = e
		}
	}
	if !maybeToken(token) {
		return nil
	}
	return found
}

// newToken makes a token and the hash of it.
func newToken() (string, [sha256.Size]byte) {
	token := base64.RawURLEncoding.EncodeToString(random(tokenBytes))
	return token, hashOf(token)
}

// maybeToken tells whether a text has the form of a token; nothing else is ever
// looked for, least of all an empty one.
func maybeToken(text string) bool {
	raw, err := base64.RawURLEncoding.Strict().DecodeString(text)
	return err == nil && len(raw) == tokenBytes
}

// hashOf needs no salt and no slow function: a token is as random as its hash.
func hashOf(token string) [sha256.Size]byte { return sha256.Sum256([]byte(token)) }

func random(n int) []byte {
	b := make([]byte, n)
	_, _ = rand.Read(b) // never fails: it ends the process where there is no chance to be had
	return b
}

// goodName is a name as it may stand in a list, a log and a file: what can be
// read, of bounded length.
func goodName(name string) string {
	name = strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) && r != unicode.ReplacementChar {
			return r
		}
		return ' '
	}, strings.ToValidUTF8(name, ""))
	name = strings.Join(strings.Fields(name), " ")
	if letters := []rune(name); len(letters) > MaxName {
		name = strings.TrimSpace(string(letters[:MaxName]))
	}
	if name == "" {
		return "a phone without a name"
	}
	return name
}
