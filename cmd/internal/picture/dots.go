package picture

// dots is a raster of points for a terminal, two by four in each character, as
// Unicode's braille patterns (U+2800 to U+28FF) have them.
type dots struct {
	columns, rows int // characters
	cells         []uint8
}

// Points in one character, across and down.
const (
	dotsAcross = 2
	dotsDown   = 4
)

// dotBits are the bits of a pattern, by column and row of the point.
var dotBits = [dotsAcross][dotsDown]uint8{{0x01, 0x02, 0x04, 0x40}, {0x08, 0x10, 0x20, 0x80}}

func newDots(columns, rows int) *dots {
	return &dots{columns: columns, rows: rows, cells: make([]uint8, columns*rows)}
}

// set makes one point black; what lies outside is left out.
func (d *dots) set(x, y int) {
	if x < 0 || y < 0 || x >= d.columns*dotsAcross || y >= d.rows*dotsDown {
		return
	}
	d.cells[y/dotsDown*d.columns+x/dotsAcross] |= dotBits[x%dotsAcross][y%dotsDown]
}

// line joins two points, ends included.
func (d *dots) line(x0, y0, x1, y1 int) {
	dx, dy := x1-x0, y1-y0
	n := max(dx, -dx, dy, -dy)
	for i := range n + 1 {
		if n == 0 {
			d.set(x0, y0)
			return
		}
		d.set(x0+(2*dx*i+n)/(2*n), y0+(2*dy*i+n)/(2*n))
	}
}

// row is one row of characters; an empty one is a space.
func (d *dots) row(y int) string {
	out := make([]rune, d.columns)
	for x := range out {
		out[x] = ' '
		if bits := d.cells[y*d.columns+x]; bits != 0 {
			out[x] = 0x2800 + rune(bits)
		}
	}
	return string(out)
}
