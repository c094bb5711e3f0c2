package page

import (
	"fmt"
	"net/http"
	"regexp"
	"strconv"
	"strings"

	"mashward/controller/unit"
)

// scale is the temperature scale of one viewer. Everything is kept in °C; only
// what is about to be shown is turned.
type scale string

// The two scales. No other is ever shown.
const (
	celsius    scale = "C"
	fahrenheit scale = "F"
)

// scaleCookie remembers a viewer's scale.
const scaleCookie = "scale"

// scaleOf is what the viewer has asked for: in the address, else before.
func scaleOf(r *http.Request) scale {
	wish := r.URL.Query().Get("unit")
	if wish == "" {
		if c, err := r.Cookie(scaleCookie); err == nil {
			wish = c.Value
		}
	}
	if wish == string(fahrenheit) {
		return fahrenheit
	}
	return celsius
}

// Sign is the unit as it is written.
func (s scale) Sign() string { return "°" + string(s) }

// Other is the scale that the viewer may change to.
func (s scale) Other() scale {
	if s == fahrenheit {
		return celsius
	}
	return fahrenheit
}

// of turns a temperature.
func (s scale) of(c float64) float64 {
	if s == fahrenheit {
		return c*9/5 + 32
	}
	return c
}

// read is a temperature as people type it, in °C. What is no number is 0, and
// refused by the core: nothing that is told is so cold.
func (s scale) read(text string) unit.Celsius {
	v, ok := number(text)
	if !ok {
		return 0
	}
	if s == fahrenheit {
		v = (v - 32) * 5 / 9
	}
	return unit.Celsius(v)
}

// gap turns a difference of temperatures: no 32 in it.
func (s scale) gap(c float64) float64 {
	if s == fahrenheit {
		return c * 9 / 5
	}
	return c
}

// figure is a temperature without its unit, to a tenth.
func (s scale) figure(c float64) string { return plainMinus(strconv.FormatFloat(s.of(c), 'f', 1, 64)) }

// write is a temperature with its unit, to a tenth.
func (s scale) write(c float64) string { return s.figure(c) + " " + s.Sign() }

// plainMinus takes the sign from a zero.
func plainMinus(number string) string {
	if strings.Trim(number, "-0.") == "" {
		return strings.TrimPrefix(number, "-")
	}
	return number
}

// Sentences come with their figures in °C. The script has the same two
// patterns and the same rules; a test holds the two together.
var (
	rangeInWords = regexp.MustCompile(`(-?\d+(?:\.\d+)?) to (-?\d+(?:\.\d+)?) °C`)
	inWords      = regexp.MustCompile(`([+-]?\d+(?:\.\d+)?) °C( a minute| below| above| too hot| too cold)?`)
)

// words turns the temperatures in a sentence. A figure with a plus sign, or
// with a word behind it that compares, is a difference. A sentence whose
// further figures have no unit of their own stays as it is, in °C.
func (s scale) words(sentence string) string {
	if s != fahrenheit || strings.Contains(sentence, "but the element manages") {
		return sentence
	}
	sentence = rangeInWords.ReplaceAllString(sentence, "$1 °C to $2 °C")
	return inWords.ReplaceAllStringFunc(sentence, func(found string) string {
		part := inWords.FindStringSubmatch(found)
		if strings.HasPrefix(part[1], "+") || part[2] != "" {
			return s.turned(part[1], true) + part[2]
		}
		return s.turned(part[1], false)
	})
}

// turned is a written figure in °C as one in this scale, with as many decimals
// and with its unit.
func (s scale) turned(number string, difference bool) string {
	c, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return number + " °C"
	}
	turn, verb := s.of, "%.*f"
	if difference {
		turn = s.gap
	}
	if strings.HasPrefix(number, "+") {
		verb = "%+.*f"
	}
	_, after, _ := strings.Cut(number, ".")
	return plainMinus(fmt.Sprintf(verb, len(after), turn(c))) + " " + s.Sign()
}
