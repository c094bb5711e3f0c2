package pairing

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"mashward/controller/record"
)

// leastToken is how long a token to scrape with is at least; 22 letters of
// base64 are 128 bits.
const leastToken = 22

// scrapeToken is the hash of the token by which metrics may be read from beyond
// this machine. It is made at the first start and stays in its file, from which
// the scraper is given it.
func scrapeToken(path string) (hash [sha256.Size]byte, err error) {
	about, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		token, hash := newToken()
		return hash, record.ReplacePrivate(path, []byte(token+"\n"))
	}
	if err != nil {
		return hash, err
	}
	if about.Mode().Perm()&0o077 != 0 {
		return hash, fmt.Errorf("%s can be read by others than its owner: chmod 600 it, or remove it for a new one", path)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return hash, err
	}
	token := strings.TrimSpace(string(text))
	if len(token) < leastToken || strings.ContainsAny(token, " \t\r\n") {
		return hash, fmt.Errorf("%s has no token of %d characters or more in one line: remove it for a new one", path, leastToken)
	}
	return hashOf(token), nil
}
