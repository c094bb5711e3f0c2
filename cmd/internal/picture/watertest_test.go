package picture

import (
	options "flag" // a flag is a mark here
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode"
)

var update = options.Bool("update", false, "write golden files anew; commit only what you understand")

// watered is a test of 26 minutes up to a moment: 90 s of rest at 12 °C, full
// power with 0.8 °C a minute, quiet. For half a minute the probe gives nothing.
func watered(until time.Duration) WaterTest {
	w := WaterTest{
		Title: "Water test of Yard kettle, 25.0 L", Goal: math.NaN(), Span: 26 * time.Minute,
		ToGo: "To go: about 20 min.", End: "Ctrl-C ends the test; the element goes off.",
	}
	for at := time.Duration(0); at <= until; at += time.Second {
		heated := min(max(0, at-90*time.Second), 10*time.Minute)
		p := Point{At: at, Reading: 12 + 0.8*heated.Minutes(), Duty: 0}
		if heated > 0 && heated < 10*time.Minute {
			p.Duty, w.Goal = 1, 20
		}
		if at > 7*time.Minute && at < 7*time.Minute+30*time.Second {
			p.Reading = math.NaN()
		}
		w.Points = append(w.Points, p)
	}
	switch {
	case until < 90*time.Second:
		w.Stage = "the water comes to rest (1 of 3)"
	case until < 690*time.Second:
		w.Stage = "full power (2 of 3)"
	default:
		w.Stage = "left alone (3 of 3)"
	}
	return w
}

// TestGoldenWaterTest: the picture as it is. To write it anew:
//
//	go test ./cmd/internal/picture -run Golden -update
func TestGoldenWaterTest(t *testing.T) {
	var b strings.Builder
	for _, c := range []struct {
		until   time.Duration
		columns int
	}{{0, 80}, {time.Minute, 80}, {7*time.Minute + 10*time.Second, 80}, {9 * time.Minute, 80}, {26 * time.Minute, 80}, {26 * time.Minute, 40}, {26 * time.Minute, 120}} {
		fmt.Fprintf(&b, "after %s, %d columns\n%s\n", c.until, c.columns, watered(c.until).Terminal(c.columns))
	}
	fmt.Fprintf(&b, "nothing yet\n%s", WaterTest{Goal: math.NaN()}.Terminal(80))
	path := filepath.Join("..", "..", "..", "testdata", "golden", "water-test.txt")
	if *update {
		if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if b.String() != string(want) {
		t.Errorf("the picture is\n%s\nand was\n%s\nIf that is meant: go test ./cmd/internal/picture -run Golden -update", b.String(), want)
	}
}

// The course is where it should be: the points of a straight line from corner
// to corner are read back out of the characters.
func TestTheCourseIsWhereItShouldBe(t *testing.T) {
	w := WaterTest{Goal: math.NaN(), Span: 20 * time.Minute}
	for at := time.Duration(0); at <= 20*time.Minute; at += time.Second {
		w.Points = append(w.Points, Point{At: at, Reading: 10 + 0.5*at.Minutes()})
	}
	const columns = 80
	rows := strings.Split(w.Terminal(columns), "\n")[3 : 3+terminalHeight]
	wide := columns - terminalMargin
	for y, row := range rows {
		for x, letter := range []rune(row)[min(terminalMargin, len([]rune(row))):] {
			for dx := range dotsAcross {
				for dy := range dotsDown {
					if letter == ' ' || int32(letter-0x2800)&int32(dotBits[dx][dy]) == 0 {
						continue
					}
					share := float64(x*dotsAcross+dx) / float64(wide*dotsAcross-1)
					height := 1 - float64(y*dotsDown+dy)/float64(terminalHeight*dotsDown-1)
					if math.Abs(share-height) > 1.0/(terminalHeight*dotsDown-1) {
						t.Errorf("a point at %.3f of the time and %.3f of the height", share, height)
					}
				}
			}
		}
	}
	if top, bottom := []rune(rows[0]), []rune(rows[terminalHeight-1]); len(top) != columns || bottom[terminalMargin] == ' ' {
		t.Errorf("the line does not go from corner to corner:\n%s", strings.Join(rows, "\n"))
	}
}

// Whatever a test brings, the picture has its rows, fits the terminal, and
// steers nothing.
func TestAnyWaterTestFitsTheTerminal(t *testing.T) {
	wild := []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e300, -1e300, 85, -127, 0}
	for seed := range uint64(300) {
		r := rand.New(rand.NewPCG(seed, 1))
		w := WaterTest{Title: "Kettle \x1b[2J\a\r\u202e of nobody", Stage: strings.Repeat("long ", r.IntN(40)), Goal: wild[r.IntN(len(wild))], Span: time.Duration(r.Int64N(int64(90 * time.Minute)))}
		at := time.Duration(0)
		for range r.IntN(400) {
			p := Point{At: at, Reading: 20 + 60*r.Float64(), Duty: float64(r.IntN(2))}
			if r.IntN(30) == 0 {
				p.Reading = wild[r.IntN(len(wild))]
			}
			w.Points = append(w.Points, p)
			at += time.Duration(r.Int64N(int64(20 * time.Second)))
		}
		columns := 1 + r.IntN(200)
		text := w.Terminal(columns)
		rows := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
		if len(rows) != TerminalRows || TerminalRows > 23 {
			t.Fatalf("seed %d: %d rows, not %d", seed, len(rows), TerminalRows)
		}
		for _, row := range rows {
			if n := len([]rune(row)); n > min(max(columns, terminalLeast), terminalMost) {
				t.Errorf("seed %d: %d letters for %d columns: %s", seed, n, columns, row)
			}
			for _, letter := range row {
				if !unicode.IsPrint(letter) {
					t.Fatalf("seed %d: %q steers the terminal", seed, row)
				}
			}
		}
	}
}
