package record

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
)

// File is storage in one file.
type File struct {
	f    *os.File
	size int64
}

// Create makes a new, empty file for a record. One that is there already is
// left alone and is an error.
func Create(path string) (*File, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return nil, fmt.Errorf("beginning a record: %w", err)
	}
	if err := syncDir(filepath.Dir(path)); err != nil {
		return nil, fmt.Errorf("beginning a record: %w", errors.Join(err, f.Close(), os.Remove(path)))
	}
	return &File{f: f}, nil
}

// Folder makes the folder that records are kept in, with those above it, and
// makes their names survive a power cut. One that is there is left as it is.
func Folder(path string) error {
	path = filepath.Clean(path)
	s, err := os.Stat(path)
	switch {
	case err == nil && s.IsDir():
		return nil
	case err == nil:
		return fmt.Errorf("the folder of records: %s is no folder: %w", path, fs.ErrExist)
	case !errors.Is(err, fs.ErrNotExist):
		return fmt.Errorf("the folder of records: %w", err)
	}
	above := filepath.Dir(path)
	if above != path {
		if err := Folder(above); err != nil {
			return err
		}
	}
	if err := os.Mkdir(path, 0o755); err != nil {
		return fmt.Errorf("the folder of records: %w", err)
	}
	return syncDir(above)
}

// View opens a record for reading only and changes nothing.
func View(path string) (*File, error) { return open(path, os.O_RDONLY) }

// Open opens a record to go on with it. An end that cannot be read, as a power
// cut leaves it, is cut off; the bytes are kept beside the file, in one of the
// same name with .broken added. cut is how many they were.
func Open(path string) (file *File, cut int64, err error) {
	f, err := open(path, os.O_RDWR)
	if err != nil {
		return nil, 0, err
	}
	cut, err = f.repair(path + ".broken")
	if err != nil {
		f.Close()
		return nil, 0, fmt.Errorf("%s: %w", path, err)
	}
	return f, cut, nil
}

func open(path string, flag int) (*File, error) {
	f, err := os.OpenFile(path, flag, 0)
	if err != nil {
		return nil, fmt.Errorf("opening a record: %w", err)
	}
	s, err := f.Stat()
	if err == nil && !s.Mode().IsRegular() {
		err = fmt.Errorf("%s is no ordinary file: %w", path, fs.ErrInvalid)
	}
	if err != nil {
		f.Close()
		return nil, fmt.Errorf("opening a record: %w", err)
	}
	return &File{f: f, size: s.Size()}, nil
}

// repair cuts off what cannot be read, once it is safe elsewhere.
func (f *File) repair(broken string) (int64, error) {
	return mend(f, func(end io.Reader) error { return keep(broken, end) })
}

// mend leaves storage at the end of a whole block, and durable up to there:
// what a daemon that was killed had written may not have been synced. keep gets
// what is to be cut off, before it is.
func mend(s Storage, keep func(end io.Reader) error) (cut int64, err error) {
	r, err := Read(s)
	if err != nil {
		return 0, err
	}
	for err == nil {
		_, err = r.Next()
	}
	var damage *Damage
	if err != io.EOF && !errors.As(err, &damage) {
		return 0, err
	}
	if cut = r.size - r.offset; cut > 0 {
		if err := keep(io.NewSectionReader(s, r.offset, cut)); err != nil {
			return 0, fmt.Errorf("keeping the unreadable end: %w: nothing was cut", err)
		}
		if err := s.Truncate(r.offset); err != nil {
			return 0, err
		}
	}
	return cut, s.Sync()
}

// keep adds the bytes to the file of broken ends and makes them durable.
func keep(path string, from io.Reader) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o644)
	if err != nil {
		return err
	}
	_, err = io.Copy(f, from)
	err = errors.Join(err, f.Sync(), f.Close())
	if err != nil {
		return err
	}
	return syncDir(filepath.Dir(path))
}

// Replace writes a small file anew: after a power cut at any instant the old one
// is there whole, or the new one. It is for what is kept beside records.
func Replace(path string, text []byte) error { return replace(path, text, 0o644) }

// ReplacePrivate is Replace for what only the owner of the file may read.
func ReplacePrivate(path string, text []byte) error { return replace(path, text, 0o600) }

func replace(path string, text []byte, mode os.FileMode) error {
	fresh := path + ".new"
	f, err := os.OpenFile(fresh, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, mode)
	if err != nil {
		return err
	}
	if mode != 0o644 {
		err = f.Chmod(mode) // one that was left behind may be readable by others
	}
	if err == nil {
		_, err = f.Write(text)
	}
	err = errors.Join(err, f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(fresh, path)
	}
	if err != nil {
		return errors.Join(err, os.Remove(fresh))
	}
	return syncDir(filepath.Dir(path))
}

// syncDir makes the name of a new file survive a power cut.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// ReadAt reads as io.ReaderAt says.
func (f *File) ReadAt(p []byte, off int64) (int, error) { return f.f.ReadAt(p, off) }

// Append adds p at the end.
func (f *File) Append(p []byte) error {
	n, err := f.f.WriteAt(p, f.size)
	f.size += int64(n)
	return err
}

// Sync returns when all that was appended will survive a power cut.
func (f *File) Sync() error { return f.f.Sync() }

// Size is the length in bytes.
func (f *File) Size() (int64, error) { return f.size, nil }

// Truncate cuts the end off.
func (f *File) Truncate(size int64) error {
	if err := f.f.Truncate(size); err != nil {
		return err
	}
	f.size = size
	return nil
}

// Close closes the file.
func (f *File) Close() error { return f.f.Close() }
