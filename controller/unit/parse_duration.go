package unit

import (
	"math"
	"strconv"
	"strings"
	"time"
)

// longestDuration bounds what may be written: a brew day is hours long, and a
// typing error must not wrap around.
const longestDuration = 366 * 24 * time.Hour

// part is one number of a duration and the unit after it.
type part struct {
	number string
	word   string
}

// ParseDuration reads a time: "90 s", "35 min", "1.5 h", "2 d", "1 h 30 min"
// and the kitchen's "1h15". Errors are *TextError.
func ParseDuration(text string) (time.Duration, error) {
	parts, err := durationParts(text)
	if err != nil {
		return 0, err
	}
	total, before := 0.0, math.Inf(1)
	for i, p := range parts {
		seconds, err := durationUnit(p, parts[:i])
		if err != nil {
			return 0, err
		}
		value, err := strconv.ParseFloat(p.number, 64)
		if err != nil || value < 0 || math.Signbit(value) {
			return 0, &TextError{quote(text) + " is not a length of time", "write " + durationWords.example}
		}
		if seconds >= before || i > 0 && value*seconds >= before {
			return 0, &TextError{quote(text) + " does not add up", "write the larger unit first, as in 1 h 30 min"}
		}
		total, before = total+value*seconds, seconds
	}
	if total > longestDuration.Seconds() {
		return 0, &TextError{quote(text) + " is longer than a year", "write " + durationWords.example}
	}
	return time.Duration(math.Round(total * float64(time.Second))), nil
}

// durationParts splits "1 h 30 min" into its numbers and words.
func durationParts(text string) ([]part, error) {
	var parts []part
	rest := text
	for first := true; first || strings.TrimSpace(rest) != ""; first = false {
		number, word, err := split(rest, durationWords.example)
		if err != nil {
			return nil, err
		}
		after := strings.IndexAny(word, "0123456789")
		if after < 0 {
			return append(parts, part{number, word}), nil
		}
		parts = append(parts, part{number, strings.TrimSpace(word[:after])})
		rest = word[after:]
	}
	return parts, nil
}

// durationUnit is the seconds in one unit word. Only a last number straight
// after hours may stand bare: "1h15" is an hour and a quarter to everybody.
func durationUnit(p part, before []part) (float64, error) {
	if p.word == "" && len(before) > 0 && before[len(before)-1].word == "h" {
		return secondsPerMinute, nil
	}
	if p.word == "" {
		return 0, &TextError{p.number + " what?", "write " + p.number + " min"}
	}
	if p.word == "m" {
		return 0, &TextError{quote(p.number+" m") + " is a length", "write " + p.number + " min"}
	}
	s, known := durationWords.find(p.word)
	if !known {
		return 0, durationWords.foreign(p.number, p.word)
	}
	return s.factor, nil
}
