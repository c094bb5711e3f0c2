package record

import (
	"encoding/json"
	"fmt"
	"io"
)

// Copy writes a record that was just opened anew, with a head that change may alter
// and without its notes. All else comes over as it is, in the same order, so that
// the copy replays as the record does. A torn end is left out. The error is the
// storage's, a *Damage, or of a head that is too long or of another version.
func Copy(dst Storage, r *Reader, change func(*Head)) error {
	if r.foreign != nil {
		return fmt.Errorf("copying a record: %w", r.foreign)
	}
	head := r.Head
	change(&head)
	// Not Head.encode: layouts and machine stay those of whoever wrote the record.
	text, err := json.Marshal(head)
	if err != nil {
		return fmt.Errorf("copying a record: %w", err)
	}
	if len(text) > maxPayload {
		return fmt.Errorf("copying a record: a head of %d bytes, more than %d", len(text), maxPayload)
	}
	if _, _, err := decodeHead(text); err != nil {
		return fmt.Errorf("copying a record: %w", err)
	}
	out, sum := seal([]byte(magic), firstSum(), KindHead, text)
	for {
		if len(out) >= windowSize {
			if err := dst.Append(out); err != nil {
				return fmt.Errorf("copying a record: %w", err)
			}
			out = out[:0]
		}
		b, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		if b.Kind != KindNote {
			out, sum = seal(out, sum, b.Kind, r.raw.payload)
		}
	}
	if err := dst.Append(out); err != nil {
		return fmt.Errorf("copying a record: %w", err)
	}
	return nil
}
