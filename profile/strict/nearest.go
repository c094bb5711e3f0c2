package strict

import (
	"math"
	"strconv"
	"strings"
)

// Nearest is the candidate that a mistyped word most likely meant, or "" when
// none is near: at most one change in three letters, at least one allowed, and
// never all of them.
func Nearest(word string, candidates []string) string {
	word = simple(word)
	best, found := max(1, len(word)/3)+1, ""
	for _, c := range candidates {
		if d := distance(word, simple(c)); d < best && d < len(word) {
			best, found = d, c
		}
	}
	return found
}

// simple drops what people mix up without a second thought.
func simple(word string) string {
	return strings.NewReplacer("_", "-", " ", "-").Replace(strings.ToLower(word))
}

// distance counts insertions, deletions, replacements and swaps of neighbours
// (optimal string alignment) between two words of bytes. A word far longer
// than any key is not worth the table.
func distance(a, b string) int {
	const longest = 64
	if len(a) > longest || len(b) > longest {
		return math.MaxInt
	}
	rows := make([][]int, len(a)+1)
	for i := range rows {
		rows[i] = make([]int, len(b)+1)
		rows[i][0] = i
	}
	for j := range rows[0] {
		rows[0][j] = j
	}
	for i := 1; i <= len(a); i++ {
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			rows[i][j] = min(rows[i-1][j]+1, rows[i][j-1]+1, rows[i-1][j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				rows[i][j] = min(rows[i][j], rows[i-2][j-2]+1)
			}
		}
	}
	return rows[len(a)][len(b)]
}

// listed is "a, b or c".
func listed(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " or " + words[last]
}

// show quotes a piece of the file for a message, cut to a readable length.
func show(text string) string {
	const longest = 40
	if runes := []rune(text); len(runes) > longest {
		text = string(runes[:longest]) + "..."
	}
	return strconv.Quote(text)
}
