package record

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"math/bits"
	"reflect"
)

// A plain value is a struct of numbers, truths, arrays and further plain
// values: no pointers, no text. It is written as the row of its leaves in the
// order of its fields: for every eight leaves one byte says which of them are
// not zero, and those follow as uvarints. Most leaves of a state are zero.

var errShort = errors.New("ends too early")

// leaf is the number that stands for one leaf. Whole numbers that are near
// zero, and floats with few digits, become small.
func leaf(v reflect.Value) uint64 {
	switch v.Kind() {
	case reflect.Bool:
		if v.Bool() {
			return 1
		}
		return 0
	case reflect.Float64:
		return bits.Reverse64(math.Float64bits(v.Float()))
	case reflect.Float32:
		return uint64(bits.Reverse32(math.Float32bits(float32(v.Float()))))
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		return zigzag(v.Int())
	default:
		return v.Uint()
	}
}

// setLeaf is the way back. It refuses what the leaf cannot hold.
func setLeaf(v reflect.Value, x uint64) error {
	fits := true
	switch v.Kind() {
	case reflect.Bool:
		fits = x <= 1
		v.SetBool(x == 1)
	case reflect.Float64:
		v.SetFloat(math.Float64frombits(bits.Reverse64(x)))
	case reflect.Float32:
		fits = x <= math.MaxUint32
		v.SetFloat(float64(math.Float32frombits(bits.Reverse32(uint32(x)))))
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		if fits = !v.OverflowInt(unzigzag(x)); fits {
			v.SetInt(unzigzag(x))
		}
	default:
		if fits = !v.OverflowUint(x); fits {
			v.SetUint(x)
		}
	}
	if !fits {
		return fmt.Errorf("%d is no %v", x, v.Type())
	}
	return nil
}

func zigzag(x int64) uint64   { return uint64(x<<1) ^ uint64(x>>63) }
func unzigzag(x uint64) int64 { return int64(x>>1) ^ -int64(x&1) }

// packer gathers leaves by eight.
type packer struct {
	dst []byte
	at  int // where the byte of the present eight stands
	n   int // leaves in it so far
}

func (p *packer) add(x uint64) {
	if p.n%8 == 0 {
		p.at = len(p.dst)
		p.dst = append(p.dst, 0)
	}
	if x != 0 {
		p.dst[p.at] |= 1 << (p.n % 8)
		p.dst = binary.AppendUvarint(p.dst, x)
	}
	p.n++
}

func (p *packer) walk(v reflect.Value) {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			p.walk(v.Field(i))
		}
	case reflect.Array:
		for i := range v.Len() {
			p.walk(v.Index(i))
		}
	default:
		p.add(leaf(v))
	}
}

// appendPlain appends the plain value that ptr points to. It allocates nothing
// but what dst needs to grow.
func appendPlain(dst []byte, ptr any) []byte {
	p := packer{dst: dst}
	p.walk(reflect.ValueOf(ptr).Elem())
	return p.dst
}

// unpacker gives the leaves back.
type unpacker struct {
	src  []byte
	bits byte
	n    int
}

func (u *unpacker) next() (uint64, error) {
	if u.n%8 == 0 {
		if len(u.src) == 0 {
			return 0, errShort
		}
		u.bits, u.src = u.src[0], u.src[1:]
	}
	set := u.bits&(1<<(u.n%8)) != 0
	u.n++
	if !set {
		return 0, nil
	}
	x, n := binary.Uvarint(u.src)
	if n <= 0 {
		return 0, errShort
	}
	u.src = u.src[n:]
	return x, nil
}

func (u *unpacker) walk(v reflect.Value) error {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if err := u.walk(v.Field(i)); err != nil {
				return err
			}
		}
	case reflect.Array:
		for i := range v.Len() {
			if err := u.walk(v.Index(i)); err != nil {
				return err
			}
		}
	default:
		x, err := u.next()
		if err != nil {
			return err
		}
		return setLeaf(v, x)
	}
	return nil
}

// readPlain reads the plain value that ptr points to, and returns what follows.
func readPlain(src []byte, ptr any) ([]byte, error) {
	u := unpacker{src: src}
	v := reflect.ValueOf(ptr).Elem()
	if err := u.walk(v); err != nil {
		return nil, fmt.Errorf("%v: %w", v.Type(), err)
	}
	return u.src, nil
}

// readWhole reads a plain value that has src to itself.
func readWhole(src []byte, ptr any) error {
	rest, err := readPlain(src, ptr)
	if err == nil && len(rest) != 0 {
		err = fmt.Errorf("%d bytes too many", len(rest))
	}
	return err
}

// hashPlain is a hash over all leaves of the plain value that ptr points to.
// Each round is a bijection, so that before the fold to 32 bits a change in one
// leaf alone cannot go unseen. The factor is 2^64 over the golden ratio.
func hashPlain(ptr any) uint32 {
	h := hashWalk(0, reflect.ValueOf(ptr).Elem())
	return uint32(h ^ h>>32)
}

func hashWalk(h uint64, v reflect.Value) uint64 {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			h = hashWalk(h, v.Field(i))
		}
	case reflect.Array:
		for i := range v.Len() {
			h = hashWalk(h, v.Index(i))
		}
	default:
		h = bits.RotateLeft64((h^leaf(v))*0x9E3779B97F4A7C15, 29)
	}
	return h
}

// shapeOf tells one layout of a plain value from another: names, kinds and
// order of all its leaves. A record made by another version may differ.
func shapeOf(ptr any) string {
	h := uint64(14695981039346656037) // FNV-1a, 64 bits
	shapeWalk(&h, reflect.TypeOf(ptr).Elem())
	return fmt.Sprintf("%016x", h)
}

func shapeWalk(h *uint64, t reflect.Type) {
	switch t.Kind() {
	case reflect.Struct:
		mixText(h, "{")
		for i := range t.NumField() {
			mixText(h, t.Field(i).Name)
			shapeWalk(h, t.Field(i).Type)
		}
		mixText(h, "}")
	case reflect.Array:
		mixText(h, fmt.Sprintf("[%d]", t.Len()))
		shapeWalk(h, t.Elem())
	default:
		mixText(h, t.Kind().String())
	}
}

func mixText(h *uint64, s string) {
	for i := range len(s) {
		*h = (*h ^ uint64(s[i])) * 1099511628211
	}
	*h = (*h ^ 0xFF) * 1099511628211
}
