package plan

import (
	"sort"
	"strings"
)

// Suggest returns the known word that a misspelt one was most likely meant to
// be, or "" when none is near: at most a third of the characters may differ
// (swapped neighbours count once), case and white space aside. Ties go to the
// first in byte order, so that the order of known words does not matter.
func Suggest(word string, known []string) string {
	best, least := "", 0
	ordered := append([]string(nil), known...)
	sort.Strings(ordered)
	for _, k := range ordered {
		d := Misspelling(word, k)
		if d >= 0 && (best == "" || d < least) {
			best, least = k, d
		}
	}
	return best
}

// Misspelling returns how many edits lead from one word to another, case and
// white space aside, or -1 where they are too many for a slip. Two equal
// words have 0; so have words that differ only in case.
func Misspelling(word, known string) int {
	a, b := []rune(folded(word)), []rune(folded(known))
	longest := max(len(a), len(b))
	allowed := (longest + 1) / 3
	if longest > 100 || len(a)-len(b) > allowed || len(b)-len(a) > allowed {
		return -1
	}
	d := edits(a, b)
	if d > allowed {
		return -1
	}
	return d
}

func folded(word string) string {
	word = strings.NewReplacer("_", " ", "-", " ").Replace(word)
	return strings.ToLower(strings.Join(strings.Fields(word), " "))
}

// edits returns the optimal string alignment distance: insertions, deletions,
// replacements and swaps of neighbours, each counted 1 (Damerau 1964).
func edits(a, b []rune) int {
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
			d := min(rows[i-1][j]+1, rows[i][j-1]+1, rows[i-1][j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				d = min(d, rows[i-2][j-2]+1)
			}
			rows[i][j] = d
		}
	}
	return rows[len(a)][len(b)]
}

// didYouMean returns a remedy that suggests the nearest of known words, and
// that word; other is the remedy where none is near.
func didYouMean(word string, known []string, other string) (fix, better string) {
	if s := Suggest(word, known); s != "" {
		return "did you mean " + quote(s) + "?", s
	}
	return other, ""
}

// listed returns names in quotes, at most a dozen of them.
func listed(names []string) string {
	const most = 12
	var parts []string
	for i, n := range names {
		if i == most {
			parts = append(parts, "…")
			break
		}
		parts = append(parts, quote(n))
	}
	return strings.Join(parts, ", ")
}
