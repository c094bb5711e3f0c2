package daemon

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"mashward/controller/record"
)

// identityFile tells a folder of records from every other. It stays with the folder
// when that is moved, and does not come along with a record that is copied.
const identityFile = "folder-id"

// identity is the name of a folder of records; "" where it has none.
func identity(folder string) (string, error) {
	text, err := os.ReadFile(filepath.Join(folder, identityFile))
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	return strings.TrimSpace(string(text)), err
}

// identify reads the folder's name, or gives it one.
func (d *Daemon) identify() {
	id, err := identity(d.o.Records)
	if err == nil && id == "" {
		id = rand.Text()
		err = record.Replace(filepath.Join(d.o.Records, identityFile), []byte(id+"\n"))
	}
	if err != nil {
		d.o.Log.Warn("the folder of records has no name of its own that lasts: records that are copied into it cannot be told from its own", "error", err)
		return
	}
	d.folder = id
}

// ours tells whether a record was begun in the folder of that name. One from before
// folders had names does not tell, and is.
func ours(head record.Head, folder string) bool { return head.Folder == "" || head.Folder == folder }

// noteForeign says of a record that was begun elsewhere, and whose batch did not end,
// that it is not offered: it is of another kettle, or of this one on another day.
func (d *Daemon) noteForeign(path string) {
	r, err := read(path)
	if err != nil { // ended, or nothing that could be gone on with
		return
	}
	d.o.Log.Warn("a record was begun in another folder: its batch is not offered here", "record", path)
	if d.cut != nil {
		return // what is offered is this kettle's own
	}
	d.unoffered = fmt.Sprintf("The record %s was begun in another folder of records, on another kettle or before this folder was made anew. Its batch did not end there, "+
		"and is not offered here. Look at the kettle: if it is hot and full, see to it. Begin a new batch, or move that file away.", r.id+RecordSuffix)
}
