package pairing

import (
	"strings"

	"rsc.io/qr"
)

// quiet is the light border that ISO/IEC 18004 asks for, in modules.
const quiet = 4

// Picture is a QR code: true is dark, row by row, with its border.
func Picture(text string) ([][]bool, error) {
	c, err := qr.Encode(text, qr.M)
	if err != nil {
		return nil, err
	}
	size := c.Size + 2*quiet
	rows := make([][]bool, size)
	for y := range rows {
		rows[y] = make([]bool, size)
		for x := range rows[y] {
			rows[y][x] = c.Black(x-quiet, y-quiet)
		}
	}
	return rows, nil
}

// Drawn is a QR code for a terminal, two modules a letter, dark on light whatever
// the terminal's colours are.
func Drawn(text string) (string, error) {
	rows, err := Picture(text)
	if err != nil {
		return "", err
	}
	var out strings.Builder
	for y := 0; y < len(rows); y += 2 {
		out.WriteString("\x1b[30;47m")
		for x := range rows[y] {
			upper, lower := rows[y][x], y+1 < len(rows) && rows[y+1][x]
			switch {
			case upper && lower:
				out.WriteString("█")
			case upper:
				out.WriteString("▀")
			case lower:
				out.WriteString("▄")
			default:
				out.WriteByte(' ')
			}
		}
		out.WriteString("\x1b[0m\n")
	}
	return out.String(), nil
}
