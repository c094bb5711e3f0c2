package schema

import (
	"go/ast"
	"go/parser"
	"go/token"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"mashward/controller/unit"
)

// parsers are the readers of the quantities, by their names in package unit.
var parsers = map[string]func(string) error{
	"celsius":        discard(unit.ParseCelsius),
	"kelvin":         discard(unit.ParseKelvin),
	"litres":         discard(unit.ParseLitres),
	"kilograms":      discard(unit.ParseKilograms),
	"watts":          discard(unit.ParseWatts),
	"joules":         discard(unit.ParseJoules),
	"metres":         discard(unit.ParseMetres),
	"volts":          discard(unit.ParseVolts),
	"amperes":        discard(unit.ParseAmperes),
	"ratio":          discard(unit.ParseRatio),
	"rampSpeed":      discard(unit.ParseKelvinPerSecond),
	"heatCapacity":   discard(unit.ParseJoulesPerKelvin),
	"heatTransfer":   discard(unit.ParseWattsPerKelvin),
	"evaporation":    discard(unit.ParseWattsPerPascal),
	"specificEnergy": discard(unit.ParseJoulesPerKilogram),
	"flow":           discard(unit.ParseLitresPerSecond),
	"volumePerMass":  discard(unit.ParseLitresPerKilogram),
	"durationWords":  discard(unit.ParseDuration),
}

func discard[T any](parse func(string) (T, error)) func(string) error {
	return func(text string) error { _, err := parse(text); return err }
}

var quantities = []quantity{
	celsius, kelvin, litres, mass, watts, energy, metres, volts, amperes, ratio, ramp, heatCapacity,
	heatTransfer, evaporation, specificEnergy, flow, volumePerMass, duration,
}

// unitWords reads the unit words out of package unit's own table, which it
// does not export.
func unitWords(t *testing.T) map[string][]string {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), "../../../controller/unit/parse_quantities.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	found := map[string][]string{}
	ast.Inspect(file, func(n ast.Node) bool {
		spec, ok := n.(*ast.ValueSpec)
		if !ok || len(spec.Values) != 1 {
			return true
		}
		ast.Inspect(spec.Values[0], func(n ast.Node) bool {
			if scale, ok := n.(*ast.CompositeLit); ok && len(scale.Elts) == 3 {
				if word, ok := scale.Elts[0].(*ast.BasicLit); ok && word.Kind == token.STRING {
					text, err := strconv.Unquote(word.Value)
					if err != nil {
						t.Fatal(err)
					}
					found[spec.Names[0].Name] = append(found[spec.Names[0].Name], text)
				}
			}
			return true
		})
		return true
	})
	return found
}

func TestTheUnitWordsAreThoseOfPackageUnit(t *testing.T) {
	table := unitWords(t)
	if len(table) != len(quantities) {
		t.Errorf("package unit has %d quantities, %d are known here", len(table), len(quantities))
	}
	for _, q := range quantities {
		if !slices.Equal(table[q.name], q.words) {
			t.Errorf("%s: package unit takes\n%q\nand the schema\n%q", q.name, table[q.name], q.words)
		}
	}
}

// Every number with every unit word of every quantity, put together in every
// way: the pattern of a quantity takes what its reader takes, and no more.
func TestAPatternTakesWhatTheReaderTakes(t *testing.T) {
	numbers := []string{"63", "6.5", ".5", "5.", "+5", "-5", "−5", "6,5", "1e3", "", ".", "0x10", "nan", ".inf", "1 000", "--5", "0", "5.5.5"}
	words := []string{"", "gal", "KG", "min h", "h min", "15", "°", "US  gal", "US\u00a0gal"}
	for _, q := range quantities {
		words = append(words, q.words...)
	}
	taken := 0
	for _, q := range quantities {
		pattern, reads := regexp.MustCompile(q.pattern()), parsers[q.name]
		for _, n := range numbers {
			for _, w := range words {
				for _, text := range []string{n + w, n + " " + w, " " + n + "\u00a0\t" + w + "\n", w + n} {
					good := reads(text) == nil
					if good != pattern.MatchString(text) {
						t.Errorf("%s: %q: reader %v, pattern %v", q.name, text, good, !good)
					}
					if good {
						taken++
					}
				}
			}
		}
	}
	if taken < 500 {
		t.Errorf("only %d texts were good", taken)
	}
}

func TestAVesselIsAHeatCapacityOrAMassOfMetal(t *testing.T) {
	pattern := regexp.MustCompile(vessel.pattern())
	for text, good := range map[string]bool{
		"4.1 kJ/K": true, "4100 J/K": true, "8 kg steel": true, "8kg copper": true, "18 lb aluminium": true, "18 lb aluminum": true,
		"8 kg": false, "8 steel": false, "8 kg tin": false, "-8 kg steel": false, "8 J": false,
	} {
		if pattern.MatchString(text) != good {
			t.Errorf("%q: pattern %v", text, !good)
		}
	}
}

// Times have several numbers. Only a pattern's blindness for sums is left to the
// reader: 1 h 90 min does not add up.
func TestATimeIsWrittenAsTheReaderTakesIt(t *testing.T) {
	pattern := regexp.MustCompile(durationPattern)
	for _, text := range []string{"1h15", "1 h 15", "1h 30 min", "1d 2h", "1 d 2 h 3 min 4 s", "1d2h15", "90 min 30 s", "1.5 h", "1h15 30s", "1 d 30 s"} {
		if _, err := unit.ParseDuration(text); err != nil || !pattern.MatchString(text) {
			t.Errorf("%q: reader %v, pattern %v", text, err, pattern.MatchString(text))
		}
	}
	random := rand.New(rand.NewPCG(1, 2))
	pieces := []string{"1", "15", "90", "0.5", ".5", "2.", "d", "h", "min", "s", " ", "  ", "\u00a0", "+", "-", "m", ","}
	good := 0
	for range 50_000 {
		var b strings.Builder
		for range 1 + random.IntN(9) {
			b.WriteString(pieces[random.IntN(len(pieces))])
		}
		text := b.String()
		_, err := unit.ParseDuration(text)
		switch match := pattern.MatchString(text); {
		case err == nil && !match:
			t.Fatalf("%q: the reader takes it, the pattern does not", text)
		case err != nil && match && !strings.Contains(err.Error(), "does not add up") && !strings.Contains(err.Error(), "longer than a year"):
			t.Fatalf("%q: the pattern takes it, the reader says %v", text, err)
		case match:
			good++
		}
	}
	if good < 1000 {
		t.Errorf("only %d texts were good", good)
	}
}
