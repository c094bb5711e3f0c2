// Package bundle packs a record into one file to give away, and reads such a file
// from anybody.
//
// # The file
//
// A bundle is a tar of POSIX.1-1988 (ustar), not compressed, with these ordinary
// files in this order and no others:
//
//	manifest.json  what it is, and size and SHA-256 of the others
//	record.batch   the record: every tick, as controller/record has it
//	profile.yaml   the profile; empty where the record has none that can be read
//	kettle.json    the kettle as it was counted with, and its tuning
//	report.json    the batch in figures
//
// Times are 0, owners 0, modes 0644: one record makes the same bytes everywhere.
//
// # What is left out
//
// The name of the rig, its lines, addresses and files, the comments of profile and
// rig, all notes (boot and clock of the board are among them), the name of its folder and its
// place there, and words that look like an address, a path or a host in the names of
// profile, steps and additions. Those names themselves stay: who gives a bundle away
// reads them first. What stays is the figures of kettle and site, and when it began.
//
// # Reading
//
// Nothing is unpacked onto a disk. What is not exactly such a file is refused, with
// the reason; no more is taken into memory than the limits below.
//
// Shell: it writes to what it is given. It reads no clock.
package bundle

import (
	"archive/tar"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"

	"mashward/cmd/internal/account"
	"mashward/cmd/internal/config"
	"mashward/cmd/internal/late/follow"
	"mashward/controller/record"
	"mashward/profile"
	"mashward/profile/strict"
)

// Format is what the manifest says.
const Format = "mashward bundle 1"

const (
	// MaxSize bounds a bundle, in bytes. Twelve hours of ticks are some hundred
	// thousand of them.
	MaxSize = 40 << 20
	// mostManifest and the others bound its files.
	mostManifest = 16 << 10
	mostRecord   = 32 << 20
	mostKettle   = 64 << 10
	mostReport   = 4 << 20

	block = 512 // of a tar
)

// part is one file of a bundle.
type part struct {
	name string
	most int
}

var parts = []part{
	{"manifest.json", mostManifest}, {"record.batch", mostRecord}, {"profile.yaml", strict.MaxBytes}, {"kettle.json", mostKettle}, {"report.json", mostReport},
}

// manifest is the first file.
type manifest struct {
	Format string   `json:"format"`
	Files  []listed `json:"files"`
}

type listed struct {
	Name string `json:"name"`
	Size int    `json:"size_bytes"`
	Hash string `json:"sha256"`
}

// Pack makes a bundle of a record. The error is for a record that cannot be read, is
// damaged, or is too long to give away.
func Pack(storage record.Storage) ([]byte, error) {
	r, err := record.Read(storage)
	if err != nil {
		return nil, err
	}
	clean := &record.Memory{}
	if err := record.Copy(clean, r, anonymous); err != nil {
		return nil, err
	}
	a, err := account.Read(clean)
	if err != nil {
		return nil, err
	}
	kettle, err := written(a.Kettle)
	if err != nil {
		return nil, err
	}
	report, err := written(a)
	if err != nil {
		return nil, err
	}
	return pack([][]byte{clean.Bytes, []byte(a.Text), kettle, report})
}

func written(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetIndent("", " ")
	e.SetEscapeHTML(false)
	err := e.Encode(v)
	return b.Bytes(), err
}

// pack writes the files behind the manifest, and it before them.
func pack(files [][]byte) ([]byte, error) {
	m := manifest{Format: Format}
	for i, text := range files {
		p := parts[i+1]
		if len(text) > p.most {
			return nil, fmt.Errorf("%s would have %d bytes, more than the %d of a bundle", p.name, len(text), p.most)
		}
		m.Files = append(m.Files, listed{p.name, len(text), hashOf(text)})
	}
	first, err := written(m)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	w := tar.NewWriter(&out)
	for i, text := range append([][]byte{first}, files...) {
		err := w.WriteHeader(&tar.Header{
			Typeflag: tar.TypeReg, Name: parts[i].name, Size: int64(len(text)), Mode: 0o644, ModTime: time.Unix(0, 0), Format: tar.FormatUSTAR,
		})
		if err == nil {
			_, err = w.Write(text)
		}
		if err != nil {
			return nil, err
		}
	}
	err = w.Close()
	return out.Bytes(), err
}

func hashOf(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

// anonymous takes out of a head what tells whose record it is.
func anonymous(h *record.Head) {
	h.Order, h.Folder, h.Profile, h.Plan = 0, "", cleaned(h.Profile), follow.Figures(h.Plan)
	for _, names := range []*[]string{&h.StepNames, &h.AdditionNames} {
		clean := make([]string, len(*names))
		for i, n := range *names {
			clean[i] = cleaned(n)
		}
		*names = clean
	}
	p, faults := profile.Parse("profile", []byte(h.ProfileText))
	if h.ProfileText != "" && !strict.Refused(faults) {
		p.Name = cleaned(p.Name)
		for i := range p.Steps {
			p.Steps[i].Name = cleaned(p.Steps[i].Name)
			for k := range p.Steps[i].Additions {
				p.Steps[i].Additions[k].Add = cleaned(p.Steps[i].Additions[k].Add)
			}
		}
		h.ProfileText = config.ProfileText(p, nil)
	} else {
		h.ProfileText = ""
	}
	rig, faults := config.ParseRig("rig", []byte(h.RigText))
	if h.RigText != "" && !strict.Refused(faults) {
		h.RigText = rig.Anonymous()
	} else {
		h.RigText = ""
	}
}

// address is a word that looks like an address of mail, of a page, of a machine or
// of a file.
var address = regexp.MustCompile(`(?i)@|://|\\|^[~.]{0,2}/.` +
	`|\b\d{1,3}(\.\d{1,3}){3}\b` + // IPv4
	`|\b([0-9a-f]{1,4}:){3,}` + // IPv6, and the addresses of network cards
	`|[\w-]\.(local|lan|home|internal|localdomain|com|org|net|io|eu|de|uk)\b`)

// leftOut stands where something was taken out of a text.
const leftOut = "(left out)"

// cleaned is a text without words that look like an address, a path or a host.
func cleaned(text string) string {
	if !address.MatchString(text) {
		return text
	}
	words := strings.Fields(text)
	for i, w := range words {
		if address.MatchString(w) {
			words[i] = leftOut
		}
	}
	return strings.Join(words, " ")
}

// packers are how compressed files begin.
var packers = [][]byte{[]byte("PK"), {0x1f, 0x8b}, []byte("BZh"), {0xfd, '7', 'z'}, {0x28, 0xb5, 0x2f, 0xfd}}

// Looks tells whether bytes begin as a bundle does, or as what people may take for
// one.
func Looks(beginning []byte) bool {
	return bytes.HasPrefix(beginning, []byte(parts[0].name)) || compressed(beginning)
}

func compressed(beginning []byte) bool {
	for _, p := range packers {
		if bytes.HasPrefix(beginning, p) {
			return true
		}
	}
	return false
}

// errShort is what is said of a file that ends before it should.
var errShort = errors.New("the bundle ends too early: copy it once more")

// Read takes the record out of a bundle. Nothing of the file is believed before its
// size and hash are as the manifest says.
func Read(in io.Reader) (*record.Memory, error) {
	all, err := io.ReadAll(io.LimitReader(in, MaxSize+1))
	if err != nil {
		return nil, fmt.Errorf("reading a bundle: %w", err)
	}
	switch {
	case len(all) > MaxSize:
		return nil, fmt.Errorf("more than %d bytes: no bundle is so large", MaxSize)
	case compressed(all):
		return nil, errors.New("a compressed file: a bundle is none; unpack it only if you know who packed it")
	}
	files, err := unpack(all)
	if err != nil {
		return nil, err
	}
	if err := judge(files); err != nil {
		return nil, err
	}
	out := &record.Memory{Bytes: files[1]}
	if err := sound(out); err != nil {
		return nil, fmt.Errorf("no bundle: record.batch %w", err)
	}
	return out, nil
}

// sound refuses a record that Pack would not have written: damaged, with notes, or
// with characters in its texts that could command a terminal.
func sound(storage record.Storage) error {
	r, err := record.Read(storage)
	if err != nil {
		return fmt.Errorf("is none: %w", err)
	}
	h := &r.Head
	for _, text := range slices.Concat([]string{h.Program, h.Began, h.Profile, h.Arch}, h.StepNames, h.AdditionNames) {
		if strings.ContainsFunc(text, unicode.IsControl) {
			return errors.New("has characters in its names that no name has")
		}
	}
	for _, text := range []string{h.ProfileText, h.RigText} {
		if strings.ContainsFunc(text, func(c rune) bool { return c != '\n' && unicode.IsControl(c) }) {
			return errors.New("has characters in its files that no such file has")
		}
	}
	for {
		b, err := r.Next()
		switch {
		case err == io.EOF && r.Torn() > 0:
			return errors.New("does not end whole")
		case err == io.EOF:
			return nil
		case err != nil:
			return fmt.Errorf("cannot be read: %w", err)
		case b.Kind == record.KindNote:
			return errors.New("has notes, which no bundle has")
		}
	}
}

// unpack cuts the files out of a tar that has to be exactly as pack writes it.
func unpack(all []byte) ([][]byte, error) {
	in := bytes.NewReader(all)
	t := tar.NewReader(in)
	var files [][]byte
	whole := 2 * block // the end of a tar
	for _, p := range parts {
		h, err := t.Next()
		switch {
		case err == io.EOF, errors.Is(err, io.ErrUnexpectedEOF):
			return nil, errShort
		case err != nil:
			return nil, fmt.Errorf("no bundle: %w", err)
		case h.Name != p.name:
			return nil, fmt.Errorf("no bundle: it holds %.80q where %s has to be", h.Name, p.name)
		case h.Typeflag != tar.TypeReg || h.Format != tar.FormatUSTAR:
			return nil, fmt.Errorf("no bundle: %s is no ordinary file", p.name)
		case h.Size < 0 || h.Size > int64(p.most):
			return nil, fmt.Errorf("no bundle: %s claims %d bytes, more than %d", p.name, h.Size, p.most)
		case h.Size > int64(len(all)):
			return nil, errShort
		}
		text, err := io.ReadAll(t)
		if err != nil || int64(len(text)) != h.Size {
			return nil, errShort
		}
		files = append(files, text)
		whole += block + (len(text)+block-1)/block*block
	}
	switch h, err := t.Next(); {
	case err == nil:
		return nil, fmt.Errorf("no bundle: it holds %.80q beside what a bundle has", h.Name)
	case len(all) < whole:
		return nil, errShort
	case err != io.EOF || len(all) > whole:
		return nil, errors.New("no bundle: something stands behind its end")
	}
	return files, nil
}

// judge holds the files to the manifest.
func judge(files [][]byte) error {
	var m manifest
	d := json.NewDecoder(bytes.NewReader(files[0]))
	d.DisallowUnknownFields()
	if err := d.Decode(&m); err != nil {
		return fmt.Errorf("no bundle: its manifest cannot be read: %w", err)
	}
	if m.Format != Format {
		return fmt.Errorf("a bundle of the format %.40q: this program reads %q", m.Format, Format)
	}
	if len(m.Files) != len(files)-1 {
		return fmt.Errorf("no bundle: its manifest names %d files, not %d", len(m.Files), len(files)-1)
	}
	for i, text := range files[1:] {
		l := m.Files[i]
		if l.Name != parts[i+1].name || l.Size != len(text) || l.Hash != hashOf(text) {
			return fmt.Errorf("%s is not as it was packed (its size, or its SHA-256, is another): ask for the bundle once more", parts[i+1].name)
		}
	}
	for i, p := range parts {
		if i >= 3 && !json.Valid(files[i]) {
			return fmt.Errorf("no bundle: %s is no JSON", p.name)
		}
	}
	return nil
}
