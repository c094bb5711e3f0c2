package yardstick

import (
	"bytes"
	"fmt"
	"os"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
	"unsafe"
)

// PseudoTerminal opens both ends of a terminal that is none: what a program writes
// into the inner end comes out of the outer one, and what goes into that has been
// typed. The outer end is closed with the test.
func PseudoTerminal(t testing.TB) (outer, inner *os.File) {
	t.Helper()
	outer, err := os.OpenFile("/dev/ptmx", os.O_RDWR|syscall.O_NOCTTY, 0)
	if err != nil {
		Missing(t, "no pseudo-terminal can be opened here: "+err.Error())
	}
	t.Cleanup(func() { outer.Close() })
	var locked, number int32
	for request, argument := range map[uintptr]*int32{syscall.TIOCSPTLCK: &locked, syscall.TIOCGPTN: &number} {
		if _, _, errno := syscall.Syscall(syscall.SYS_IOCTL, outer.Fd(), request, uintptr(unsafe.Pointer(argument))); errno != 0 {
			t.Fatal(errno)
		}
	}
	inner, err = os.OpenFile(fmt.Sprintf("/dev/pts/%d", number), os.O_RDWR|syscall.O_NOCTTY, 0)
	if err != nil {
		Missing(t, "no pseudo-terminal can be opened here: "+err.Error())
	}
	return outer, inner
}

// Typist sits at the outer end of a pseudo-terminal: reads, and types.
type Typist struct {
	t     testing.TB
	outer *os.File

	mu   sync.Mutex
	seen bytes.Buffer
	read int // of seen, by Sees
	end  chan struct{}
}

// NewTypist begins to read what comes out of the outer end.
func NewTypist(t testing.TB, outer *os.File) *Typist {
	y := &Typist{t: t, outer: outer, end: make(chan struct{})}
	go func() {
		defer close(y.end)
		b := make([]byte, 4096)
		for {
			n, err := outer.Read(b)
			y.mu.Lock()
			y.seen.Write(b[:n])
			y.mu.Unlock()
			if err != nil {
				return // the other end is closed
			}
		}
	}()
	return y
}

// All is what has been on the terminal so far, with the line ends of a file.
func (y *Typist) All() string {
	y.mu.Lock()
	defer y.mu.Unlock()
	return strings.ReplaceAll(y.seen.String(), "\r\n", "\n")
}

// Ends waits until the inner end is closed by everyone, and returns all there was.
func (y *Typist) Ends() string {
	<-y.end
	return y.All()
}

// Sees waits until the words stand there, behind those of the last call.
func (y *Typist) Sees(words string, patience time.Duration) {
	y.t.Helper()
	tick := time.NewTicker(time.Millisecond)
	defer tick.Stop()
	for began := time.Now(); time.Since(began) < patience; <-tick.C {
		y.mu.Lock()
		at := bytes.Index(y.seen.Bytes()[y.read:], []byte(words))
		if at >= 0 {
			y.read += at + len(words)
		}
		y.mu.Unlock()
		if at >= 0 {
			return
		}
	}
	y.t.Fatalf("%q never stood on the terminal:\n%s", words, y.All())
}

// Types types.
func (y *Typist) Types(text string) {
	y.t.Helper()
	if _, err := y.outer.WriteString(text); err != nil {
		y.t.Error(err)
	}
}
