package pairing

import (
	"image"
	"image/color"
	"regexp"
	"strings"
	"testing"

	decode "github.com/piglig/go-qr"
)

// bitmap is a picture of modules as a camera would see it.
type bitmap struct {
	rows  [][]bool
	scale int
}

func (b bitmap) ColorModel() color.Model { return color.GrayModel }
func (b bitmap) Bounds() image.Rectangle {
	return image.Rect(0, 0, len(b.rows[0])*b.scale, len(b.rows)*b.scale)
}

func (b bitmap) At(x, y int) color.Color {
	if b.rows[y/b.scale][x/b.scale] {
		return color.Black
	}
	return color.White
}

// What is drawn is read back by a reader that shares no code with what drew it.
func TestTheDrawnCodeLeadsToTheLink(t *testing.T) {
	for _, link := range []string{
		"http://192.0.2.2:8973/pair#KVVW-RV63", "http://[2001:db8:85a3:8d3:1319:8a2e:370:7348]:65535/pair#0000-0000", "http://kettle.lan:8973/pair#ZZZZ-9999",
	} {
		rows, err := Picture(link)
		if err != nil {
			t.Fatal(err)
		}
		if read, err := decode.Decode(bitmap{rows, 4}); err != nil || read != link {
			t.Errorf("read %q, %v", read, err)
		}
		drawn, err := Drawn(link)
		if err != nil {
			t.Fatal(err)
		}
		if read, err := decode.Decode(bitmap{undrawn(drawn), 4}); err != nil || read != link {
			t.Errorf("on the terminal: read %q, %v", read, err)
		}
		lines := strings.Split(strings.TrimSuffix(drawn, "\n"), "\n")
		if len(lines) > 24 || len(rows) > 80 {
			t.Errorf("%d lines of %d letters do not fit a terminal of 80 by 25", len(lines), len(rows))
		}
	}
}

// undrawn is what the letters of a terminal show: dark is the foreground.
func undrawn(text string) [][]bool {
	var rows [][]bool
	for line := range strings.Lines(regexp.MustCompile(`\x1b\[[0-9;]*m|\n`).ReplaceAllString(strings.ReplaceAll(text, "\n", "\x00"), "")) {
		for row := range strings.SplitSeq(strings.TrimSuffix(line, "\x00"), "\x00") {
			var upper, lower []bool
			for _, r := range row {
				upper = append(upper, r == '█' || r == '▀')
				lower = append(lower, r == '█' || r == '▄')
			}
			rows = append(rows, upper, lower)
		}
	}
	return rows
}
