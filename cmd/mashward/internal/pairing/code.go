package pairing

import (
	"crypto/sha256"
	"crypto/subtle"
	"strings"
	"time"
)

const (
	// ValidFor is how long a code can be used, and once.
	ValidFor = 10 * time.Minute

	// codeLetters of 32 each make 40 bits. What can be tried in ten minutes
	// (see Tries) meets one in 2e9 times.
	codeLetters = 8
	// alphabet leaves out I, L, O and U, which are taken for others.
	alphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
)

// code is the one that waits to be used. Its owner guards it.
type code struct {
	hash  [sha256.Size]byte
	until time.Time // zero: there is none
}

// fresh makes a new code; the one before is void.
func (c *code) fresh(now time.Time) string {
	var text strings.Builder
	for i, b := range random(codeLetters) {
		if i == codeLetters/2 {
			text.WriteByte('-')
		}
		text.WriteByte(alphabet[int(b)%len(alphabet)])
	}
	c.hash, c.until = hashOf(plain(text.String())), now.Add(ValidFor)
	return text.String()
}

// use tells whether a text is the code, which is void from then on.
func (c *code) use(text string, now time.Time) bool {
	hash := hashOf(plain(text))
	same := subtle.ConstantTimeCompare(hash[:], c.hash[:]) == 1
	if !same || !now.Before(c.until) {
		return false
	}
	*c = code{}
	return true
}

// plain is a code as somebody may have typed it, without what does not matter.
func plain(text string) string {
	if len(text) > 8*codeLetters {
		return ""
	}
	return strings.Map(func(r rune) rune {
		switch {
		case r == '-' || r == ' ' || r == '\t' || r == '\r' || r == '\n':
			return -1
		case r == 'O' || r == 'o':
			return '0'
		case r == 'I' || r == 'i' || r == 'L' || r == 'l':
			return '1'
		case r >= 'a' && r <= 'z':
			return r - 'a' + 'A'
		}
		return r
	}, text)
}
