package unit

import (
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// TextError says what is wrong with a written quantity and what to write
// instead, so that whoever reads a file can name the place as well.
type TextError struct {
	What   string // what is wrong, without a full stop
	Remedy string // what to write instead
}

// Error is both halves in one line.
func (e *TextError) Error() string { return JoinRemedy(e.What, e.Remedy) }

// JoinRemedy puts a complaint and its remedy into one line: a question is
// answered, a statement is followed up.
func JoinRemedy(what, remedy string) string {
	switch {
	case remedy == "":
		return what
	case strings.HasSuffix(what, "?"):
		return what + " " + remedy
	}
	return what + "; " + remedy
}

// scale is one unit word and its way to the unit used inside the program:
// inside = (written + offset) * factor.
type scale struct {
	word   string
	factor float64
	offset float64
}

// quantity is what may be written for one kind of quantity.
type quantity struct {
	noun     string  // with its article: "a temperature"
	example  string  // a value that parses, used in remedies
	units    []scale // accepted words; the first is the one remedies use
	signed   bool    // whether a value below zero has a meaning
	decimals int     // digits worth showing, in the first unit
}

// parse reads a number and a unit word. Nothing is guessed: a missing or
// foreign unit is an error that says what to write.
func (q quantity) parse(text string) (float64, error) {
	number, word, err := split(text, q.example)
	if err != nil {
		return 0, err
	}
	if word == "" {
		return 0, &TextError{number + " what?", "write " + number + join(q.units[0].word)}
	}
	s, known := q.find(word)
	if !known {
		return 0, q.foreign(number, word)
	}
	value, err := strconv.ParseFloat(number, 64)
	if err != nil || math.IsInf(value, 0) || math.IsNaN(value) {
		return 0, &TextError{quote(text) + " is too large a number", "write " + q.example}
	}
	inside := (value + s.offset) * s.factor
	if inside < 0 && !q.signed {
		return 0, &TextError{quote(text) + " is below zero", "write " + q.noun + " such as " + q.example}
	}
	return inside, nil
}

// find looks a unit word up.
func (q quantity) find(word string) (scale, bool) {
	for _, s := range q.units {
		if s.word == word {
			return s, true
		}
	}
	return scale{}, false
}

// foreign is the error for a word that is no unit of q.
func (q quantity) foreign(number, word string) error {
	lower := strings.ToLower(word)
	if measure, ok := strings.CutPrefix(lower, "gal"); ok && strings.Trim(measure, "lons") == "" && q.noun == litres.noun {
		return gallons(number)
	}
	for _, s := range q.units {
		if strings.ToLower(s.word) == lower {
			return &TextError{quote(word) + " is not the way this unit is written", "write " + number + join(q.usual(s).word)}
		}
	}
	if q.noun == kelvin.noun {
		if _, ok := celsius.find(word); ok {
			return &TextError{quote(number+join(word)) + " is a temperature, and this is a difference", "write it in kelvin, as " + q.example}
		}
	}
	for _, other := range quantities {
		if _, ok := other.find(word); ok {
			return &TextError{word + " measures " + other.noun + ", and this is " + q.noun, "write " + q.choices() + ", as in " + q.example}
		}
	}
	return &TextError{quote(word) + " is not a unit of " + strings.TrimPrefix(q.noun, "a "), "write " + q.choices() + ", as in " + q.example}
}

// usual is the first spelling of a unit.
func (q quantity) usual(s scale) scale {
	for _, first := range q.units {
		if first.factor == s.factor && first.offset == s.offset {
			return first
		}
	}
	return s
}

// gallons refuses a bare gallon: the two in use differ by 20 %.
func gallons(number string) error {
	value, err := strconv.ParseFloat(number, 64)
	if err != nil {
		value = 1
	}
	us, imperial := Litres(value*litresPerUSGallon), Litres(value*litresPerImperialGallon)
	return &TextError{
		quote(number+" gal") + " could be two volumes",
		"write " + number + " US gal (" + FormatLitres(us) + ") or " + number + " imp gal (" + FormatLitres(imperial) + ")",
	}
}

// choices lists the words worth offering; spellings of one unit come once.
func (q quantity) choices() string {
	var words []string
	for _, s := range q.units {
		if q.usual(s) == s {
			words = append(words, s.word)
		}
	}
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " or " + words[last]
}

// split parts a text into a plain decimal number and the unit after it.
func split(text, example string) (number, word string, err error) {
	trimmed := strings.TrimSpace(text)
	if trimmed == "" {
		return "", "", &TextError{"nothing is written", "write " + example}
	}
	trimmed = strings.Replace(trimmed, "−", "-", 1) // a typographic minus sign
	if notANumber(trimmed) {
		return "", "", &TextError{quote(text) + " is not a number", "write " + example}
	}
	end := numberEnd(trimmed)
	if !strings.ContainsAny(trimmed[:end], "0123456789") {
		return "", "", &TextError{quote(text) + " does not begin with a number", "write " + example}
	}
	rest := trimmed[end:]
	if strings.HasPrefix(rest, ",") && numberEnd(rest[1:]) > 0 {
		return "", "", decimalComma(trimmed, end)
	}
	return trimmed[:end], strings.Join(strings.Fields(rest), " "), nil
}

// numberEnd is where a plain decimal number at the start of text ends.
func numberEnd(text string) int {
	i, point := 0, false
	for i < len(text) {
		c := text[i]
		switch {
		case c >= '0' && c <= '9':
		case c == '.' && !point:
			point = true
		case (c == '-' || c == '+') && i == 0:
		default:
			return i
		}
		i++
	}
	return i
}

// notANumber recognises the ways of writing NaN and infinity.
func notANumber(text string) bool {
	t := strings.TrimLeft(strings.ToLower(text), "+-.")
	return strings.HasPrefix(t, "nan") || strings.HasPrefix(t, "inf")
}

// decimalComma is the error for "6,5 kg". Three digits after the comma may as
// well be a thousand, so both are offered.
func decimalComma(text string, comma int) error {
	point := text[:comma] + "." + text[comma+1:]
	remedy := "write " + point
	if numberEnd(text[comma+1:]) == 3 {
		remedy += " or " + text[:comma] + text[comma+1:]
	}
	return &TextError{quote(text) + " has a decimal comma", remedy}
}

// join sets the space between number and unit.
func join(word string) string { return " " + word }

// quote shows a piece of a file in a message, cut to a readable length.
func quote(text string) string {
	const longest = 40
	text = strings.ToValidUTF8(text, "?")
	if utf8.RuneCountInString(text) > longest {
		text = string([]rune(text)[:longest]) + "..."
	}
	return strconv.Quote(text)
}
