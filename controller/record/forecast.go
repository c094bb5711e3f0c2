package record

import (
	"encoding/binary"
	"fmt"
	"time"
)

// Forecast is what was said at one instant of how the batch would go on. Instants
// count from arming, in whole seconds.
type Forecast struct {
	Made   time.Duration
	Finish Span
	// Next is the next moment at which a person is needed: Of names it within its
	// step. Of "": there is none.
	Next Span
	Step uint8
	Of   string
}

// Span is an instant with the band it was said to lie in.
type Span struct{ Early, At, Late time.Duration }

// mostName bounds the name of a moment, in bytes.
const mostName = 32

// append writes the forecast: each instant by how far it is from the one before.
func (f *Forecast) append(dst []byte) []byte {
	dst = binary.AppendUvarint(dst, secondsOf(f.Made))
	dst = f.Finish.append(dst, f.Made)
	if f.Of == "" {
		return dst
	}
	dst = f.Next.append(append(dst, f.Step), f.Made)
	return append(dst, f.Of[:min(len(f.Of), mostName)]...)
}

func (s *Span) append(dst []byte, made time.Duration) []byte {
	dst = binary.AppendUvarint(dst, zigzag(int64(secondsOf(s.Early))-int64(secondsOf(made))))
	dst = binary.AppendUvarint(dst, zigzag(int64(secondsOf(s.At))-int64(secondsOf(s.Early))))
	return binary.AppendUvarint(dst, zigzag(int64(secondsOf(s.Late))-int64(secondsOf(s.At))))
}

func secondsOf(d time.Duration) uint64 { return uint64(max(0, d.Round(time.Second)) / time.Second) }

// read is the way back. Nothing may be left over.
func (f *Forecast) read(src []byte) error {
	*f = Forecast{}
	made, n := binary.Uvarint(src)
	if n <= 0 || made > mostSeconds {
		return errShort
	}
	f.Made = time.Duration(made) * time.Second
	src, err := f.Finish.read(src[n:], f.Made)
	if err != nil || len(src) == 0 {
		return err
	}
	f.Step = src[0]
	if src, err = f.Next.read(src[1:], f.Made); err != nil {
		return err
	}
	if len(src) == 0 || len(src) > mostName {
		return fmt.Errorf("a name of %d bytes", len(src))
	}
	f.Of = string(src)
	return nil
}

// mostSeconds bounds an instant that is read: a batch has no second month.
const mostSeconds = 31 * 24 * 3600

func (s *Span) read(src []byte, made time.Duration) ([]byte, error) {
	at := made
	for _, to := range [...]*time.Duration{&s.Early, &s.At, &s.Late} {
		x, n := binary.Uvarint(src)
		by := unzigzag(x)
		if n <= 0 || by > mostSeconds || by < -mostSeconds {
			return src, errShort
		}
		at += time.Duration(by) * time.Second
		*to, src = at, src[n:]
	}
	return src, nil
}

// Forecast writes down what was said of how the batch will go on. It waits for
// nobody, as Note does, and comes to storage with the next sync.
func (r *Recorder) Forecast(f Forecast) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed || len(r.fill)+r.held > BufferSize {
		return
	}
	r.scrap = f.append(r.scrap[:0])
	r.seal(KindForecast, r.scrap)
}
