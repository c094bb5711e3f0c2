package record

import (
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"strings"
)

// Block is one block as it was read.
type Block struct {
	Kind   Kind
	Offset int64 // of its first byte

	Tick       Tick       // KindTick
	Checkpoint Checkpoint // KindStart, KindCheckpoint
	Strange    error      // KindStart, KindCheckpoint: made by another version and not read
	Gap        Gap        // KindGap
	End        End        // KindEnd
	Note       string     // KindNote
	Forecast   Forecast   // KindForecast
}

// Damage is the error for bytes in the middle of a record that are not as they
// were written. All before Offset is true; what follows is not read.
type Damage struct {
	Offset int64 // of the first block that is not whole
	Lost   int64 // bytes from there to the end
	Why    string
}

// Error says where, what is lost, and what to do.
func (d *Damage) Error() string {
	return fmt.Sprintf("record damaged at byte %d: %s: the %d bytes from there on are not read; what stands before is whole: copy the file, and distrust its card unless power failed at that moment",
		d.Offset, d.Why, d.Lost)
}

// ErrNoHead is the error of bytes that hold no record.
var ErrNoHead = errors.New("no record: it does not begin as one (it may be empty because power failed as it began)")

// Reader reads a record from its beginning. It needs no more memory for a long
// record than for a short one.
type Reader struct {
	Head Head

	storage Storage
	size    int64
	offset  int64  // of the next block
	sum     uint32 // that the next block carries on
	window  []byte // bytes from offset on
	row     rows
	foreign error
	sane    bool // shapes of state and guard are ours
	block   Block
	raw     block // the same as it stands in storage
	torn    int64
	ended   error // what Next returns from now on
}

const windowSize = 64 << 10

// Read begins reading a record. Storage must not change meanwhile.
func Read(storage Storage) (*Reader, error) {
	size, err := storage.Size()
	if err != nil {
		return nil, fmt.Errorf("reading a record: %w", err)
	}
	r := &Reader{storage: storage, size: size, sum: firstSum()}
	if err := r.load(len(magic)); err != nil {
		return nil, err
	}
	if len(r.window) < len(magic) || string(r.window[:len(magic)]) != magic {
		return nil, ErrNoHead
	}
	r.skip(len(magic))
	b, why, err := r.peek()
	if err != nil {
		return nil, err
	}
	if why == "" && b.kind != KindHead {
		why = "it does not begin with a head"
	}
	if why != "" {
		return nil, fmt.Errorf("%w: %s", ErrNoHead, why)
	}
	if r.Head, r.foreign, err = decodeHead(b.payload); err != nil {
		return nil, err
	}
	ours := shapes()
	r.sane = r.Head.Shapes.State == ours.State && r.Head.Shapes.Guard == ours.Guard && r.Head.Shapes.Watch == ours.Watch
	r.pass(b)
	return r, nil
}

// Foreign is why only a part of the head could be read: another version wrote it. nil:
// all of it was. What is known of such a record can be looked at; nothing may go on
// from it, or be worked out that needs all figures.
func (r *Reader) Foreign() error { return r.foreign }

// Next is the next block, good until the next call. After the last it returns
// io.EOF; a tail that was torn by a power cut ends the record too, see Torn.
// Where bytes in the middle are damaged it returns a *Damage.
func (r *Reader) Next() (*Block, error) {
	if r.ended == nil {
		r.ended = r.next()
	}
	if r.ended != nil {
		return nil, r.ended
	}
	return &r.block, nil
}

// Each shows all that is left to everyone, block by block, up to the end or to where the
// record is damaged, which it tells; the error is storage's own.
func (r *Reader) Each(see ...func(*Block)) (*Damage, error) {
	for {
		b, err := r.Next()
		switch e := err.(type) {
		case nil:
			for _, f := range see {
				f(b)
			}
		case *Damage:
			return e, nil
		default:
			if err == io.EOF {
				return nil, nil
			}
			return nil, err
		}
	}
}

// Torn is how many bytes at the end belong to a block that was never written
// whole. Known once Next has returned io.EOF.
func (r *Reader) Torn() int64 { return r.torn }

func (r *Reader) next() error {
	if r.offset == r.size {
		return io.EOF
	}
	b, why, err := r.peek()
	if err != nil {
		return err
	}
	if why == "" {
		if err := r.decode(b); err != nil {
			why = fmt.Sprintf("a %v block makes no sense: %v", b.kind, err)
			return &Damage{Offset: r.offset, Lost: r.size - r.offset, Why: why}
		}
		r.raw = b
		r.pass(b)
		return nil
	}
	goesOn, err := r.goesOn()
	if err != nil {
		return err
	}
	if goesOn {
		return &Damage{Offset: r.offset, Lost: r.size - r.offset, Why: why}
	}
	r.torn = r.size - r.offset
	return io.EOF
}

// decode reads the payload into the block that Next shows.
func (r *Reader) decode(b block) (err error) {
	out := &r.block
	out.Kind, out.Offset, out.Strange = b.kind, r.offset, nil
	switch b.kind {
	case KindTick:
		if b.payload == nil {
			return errShort
		}
		return r.row.read(b.payload, &out.Tick)
	case KindStart, KindCheckpoint:
		if b.kind == KindStart {
			r.row = rows{}
		}
		if !r.sane && strings.Trim(string(b.payload), "\x00") == "" {
			out.Checkpoint = Checkpoint{} // nothing but zeros is the initial state in every layout
			return nil
		}
		if !r.sane {
			out.Strange = errors.New("a checkpoint in the layout of another version of the program")
			return nil
		}
		return out.Checkpoint.read(b.payload)
	case KindGap:
		r.row = rows{}
		err = readWhole(b.payload, &out.Gap)
	case KindEnd:
		err = readWhole(b.payload, &out.End)
	case KindNote:
		out.Note = string(b.payload)
	case KindForecast:
		err = out.Forecast.read(b.payload)
	default:
		err = errors.New("it stands where none may stand")
	}
	return err
}

// peek cuts the next block out of storage, without passing it. why says what
// is wrong with the bytes; err is storage's own.
func (r *Reader) peek() (b block, why string, err error) {
	need := 2
	for {
		if err := r.load(need); err != nil {
			return b, "", err
		}
		if len(r.window) < need {
			return b, "a block ends too early", nil
		}
		var bad error
		if b, need, bad = cut(r.window); bad != nil {
			return b, bad.Error(), nil
		}
		if need == 0 {
			break
		}
	}
	if !b.follows(r.sum) {
		return b, "its checksum is another", nil
	}
	return b, "", nil
}

// pass goes on to the block after b.
func (r *Reader) pass(b block) {
	r.sum = b.sum
	r.skip(b.size)
}

func (r *Reader) skip(n int) {
	r.offset += int64(n)
	r.window = r.window[n:]
}

// load sees to it that the window holds at least need bytes, or all that are
// left.
func (r *Reader) load(need int) error {
	if len(r.window) >= need {
		return nil
	}
	left := r.size - r.offset
	if int64(len(r.window)) == left {
		return nil
	}
	fresh := make([]byte, min(left, max(windowSize, int64(need))))
	have := copy(fresh, r.window)
	n, err := r.storage.ReadAt(fresh[have:], r.offset+int64(have))
	if err != nil && !(err == io.EOF && have+n == len(fresh)) {
		return fmt.Errorf("reading a record at byte %d: %w", r.offset+int64(have), err)
	}
	r.window = fresh[:have+n]
	return nil
}

const (
	// More than this is never waiting for a sync, so that a longer unreadable
	// end is no torn tail.
	tornAtMost = 2*BufferSize + maxFrame
	// Work that looking for readable blocks may take, in bytes summed.
	lookAtMost = 64 << 20
)

// goesOn tells whether whole blocks follow somewhere behind the unreadable one:
// then it was not a power cut that tore the tail. Two blocks in a row are
// needed to know one, as each carries on the sum of the one before.
func (r *Reader) goesOn() (bool, error) {
	if r.size-r.offset > tornAtMost {
		return true, nil
	}
	if err := r.load(tornAtMost); err != nil {
		return false, err
	}
	work := 0
	for at := range r.window {
		first, need, bad := cut(r.window[at:])
		if bad != nil || need != 0 {
			continue
		}
		second, need, bad := cut(r.window[at+first.size:])
		if bad != nil || need != 0 {
			continue
		}
		if crc32.Update(first.sum, castagnoli, second.summed) == second.sum {
			return true, nil
		}
		if work += second.size; work > lookAtMost {
			return true, nil // too strange for a torn tail
		}
	}
	return false, nil
}
