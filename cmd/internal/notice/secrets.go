package notice

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"mashward/profile/strict"
)

// longestSecret is the most that a file with a secret may hold.
const longestSecret = 4 << 10

// ReadSecrets fills in what lies in files of its own; their names count from the
// folder of the file. It says what is wrong with them, and never what is in them.
func (f *File) ReadSecrets(name string) []strict.Fault {
	var faults []strict.Fault
	read := func(s *Secret, check func(string) (what, remedy string)) {
		if s.File == "" {
			return
		}
		path := s.File
		if !filepath.IsAbs(path) {
			path = filepath.Join(filepath.Dir(name), path)
		}
		text, what, remedy := secret(path)
		if what == "" {
			if what, remedy = check(text); what == "" {
				s.Value = text
				return
			}
		}
		faults = append(faults, strict.Fault{File: name, Line: s.Line, What: "file " + s.File + ": " + what, Remedy: remedy})
	}
	for i := range f.Targets {
		t := &f.Targets[i]
		read(&t.URL, CheckURL)
		for j := range t.Headers {
			read(&t.Headers[j].Secret, visible)
		}
	}
	return faults
}

// secret reads one file, which nobody but its owner may read.
func secret(path string) (text, what, remedy string) {
	about, err := os.Stat(path) // before it is opened: a pipe would wait for whoever writes it
	if err == nil && !about.Mode().IsRegular() {
		return "", "it is no plain file", "name a file with the value in it"
	}
	var file *os.File
	if err == nil {
		file, err = os.Open(path)
	}
	if err != nil {
		var p *fs.PathError
		if errors.As(err, &p) {
			err = p.Err
		}
		return "", "it cannot be read: " + err.Error(), "check the name, and that mashward may read it"
	}
	defer file.Close() // opened for reading: nothing to lose
	switch about, err = file.Stat(); {
	case err != nil:
		return "", "it cannot be looked at: " + err.Error(), "check the name"
	case runtime.GOOS != "windows" && about.Mode().Perm()&0o077 != 0:
		return "", fmt.Sprintf("others may read or write it (mode %03o), and a secret is in it", about.Mode().Perm()), "chmod 600 " + path
	}
	all, err := io.ReadAll(io.LimitReader(file, longestSecret+1))
	if err != nil {
		return "", "it cannot be read: " + err.Error(), "check the file"
	}
	text = strings.TrimRight(string(all), "\r\n")
	if text == "" || len(all) > longestSecret {
		return "", fmt.Sprintf("it is empty or longer than %d bytes", longestSecret), "write the value into it, in one line"
	}
	return text, "", ""
}

// visible holds a value to what a header can carry.
func visible(text string) (what, remedy string) {
	for _, r := range text {
		if r < ' ' || r > '~' {
			return "there is more than one line of plain characters in it", "write the value into it, in one line"
		}
	}
	return "", ""
}
