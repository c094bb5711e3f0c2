package record

import (
	"encoding/binary"
	"fmt"
	"hash/crc32"
)

// magic opens every record and names its format.
const magic = "mashward record 1\n"

// Kind is the kind of a block.
type Kind uint8

// The kinds of blocks. The numbers are part of the format.
const (
	KindHead       Kind = 1 + iota // what the record is of; the first block
	KindStart                      // state and guard before the next tick; the second block, and again after a restart
	KindTick                       // one tick
	KindCheckpoint                 // state and guard after the tick before
	KindGap                        // ticks were lost here
	KindEnd                        // how the batch ended
	KindNote                       // a sentence
	KindForecast                   // how the batch was said to go on
	kindEnd
)

var kindNames = [...]string{"", "head", "start", "tick", "checkpoint", "gap", "end", "note", "forecast"}

// String is the kind in one word.
func (k Kind) String() string {
	if int(k) < len(kindNames) {
		return kindNames[k]
	}
	return "unknown"
}

const (
	// maxPayload bounds a block, and so the memory that reading one can take.
	maxPayload = 1 << 20
	sumSize    = 4
	// maxFrame is what stands around a payload at most: kind, length, sum.
	maxFrame = 1 + 3 + sumSize
)

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// firstSum is the sum that the first block carries on.
func firstSum() uint32 { return crc32.Checksum([]byte(magic), castagnoli) }

// seal appends the block of that payload to dst. It returns the sum that the
// next block carries on.
func seal(dst []byte, sum uint32, kind Kind, payload []byte) ([]byte, uint32) {
	from := len(dst)
	dst = append(dst, byte(kind))
	dst = binary.AppendUvarint(dst, uint64(len(payload)))
	dst = append(dst, payload...)
	sum = crc32.Update(sum, castagnoli, dst[from:])
	return binary.LittleEndian.AppendUint32(dst, sum), sum
}

// block is a block in place: its payload is part of the bytes it was cut from.
type block struct {
	kind    Kind
	payload []byte
	size    int    // of the whole block
	summed  []byte // what the sum is over
	sum     uint32 // as it stands in the block
}

// follows tells whether the block is whole and carries on that sum.
func (b *block) follows(sum uint32) bool {
	return crc32.Update(sum, castagnoli, b.summed) == b.sum
}

// cut takes the block at the beginning of p apart, without judging its sum.
// need is the size of the block when p is too short for it, else 0.
func cut(p []byte) (b block, need int, err error) {
	if len(p) < 2 {
		return b, 2, nil
	}
	b.kind = Kind(p[0])
	if b.kind == 0 || b.kind >= kindEnd {
		return b, 0, fmt.Errorf("there is no kind of block numbered %d", p[0])
	}
	length, n := binary.Uvarint(p[1:min(len(p), maxFrame-sumSize)])
	if n == 0 && len(p) < maxFrame-sumSize {
		return b, len(p) + 1, nil
	}
	if n <= 0 || length > maxPayload {
		return b, 0, fmt.Errorf("a %v block that claims more than %d bytes", b.kind, maxPayload)
	}
	body := 1 + n + int(length)
	if b.size = body + sumSize; len(p) < b.size {
		return b, b.size, nil
	}
	b.payload, b.summed = p[1+n:body], p[:body]
	b.sum = binary.LittleEndian.Uint32(p[body:])
	return b, 0, nil
}
