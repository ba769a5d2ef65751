// Package match compares the words that a plan writes with the texts that a
// map holds: whole words found inside a text, and the last part of an address.
//
// A word is a run of letters, digits and the marks on them; everything else
// parts words, "_" and "-" too. Words are compared whatever their case, and
// whatever way an accented letter is stored (Unicode NFC). Which keys are
// allowed and what a match is worth are left to the plan. The rule of
// [Contains] is this program's own; there is no published method behind it.
package match

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// Words returns the words of a text in order, each in one spelling of its
// case; nil where the text has none.
func Words(text string) []string {
	words := strings.FieldsFunc(norm.NFC.String(text), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !unicode.IsMark(r)
	})
	for i, w := range words {
		words[i] = strings.Map(oneCase, w)
	}
	return words
}

// oneCase returns the letter that stands for a letter in all its cases: the
// small one where there is one.
func oneCase(r rune) rune {
	least := r
	for next := unicode.SimpleFold(r); next != r; next = unicode.SimpleFold(next) {
		least = min(least, next)
	}
	return unicode.ToLower(least)
}

// Key is a text as it is looked for: its words with one blank between.
func Key(text string) string { return strings.Join(Words(text), " ") }

// Contains finds which of some keys a text contains. It is safe for concurrent
// use.
type Contains struct {
	keys  [][]string
	long  []int            // of each key, in characters
	start map[string][]int // keys by their first word
}

// NewContains takes the keys, each a word or several in a row. A key without
// any word is found nowhere; of keys with the same words the first is found.
func NewContains(keys []string) *Contains {
	c := &Contains{start: map[string][]int{}}
	for i, key := range keys {
		words := Words(key)
		c.keys = append(c.keys, words)
		c.long = append(c.long, utf8.RuneCountInString(strings.Join(words, " ")))
		if len(words) > 0 {
			c.start[words[0]] = append(c.start[words[0]], i)
		}
	}
	return c
}

// Find returns the place, among the keys, of the one that a text is matched
// by, or -1: of those whose words stand in it whole and in a row, the longest
// in characters, and of equally long ones the earliest in the text.
func (c *Contains) Find(text string) int {
	words, best := Words(text), -1
	for at, word := range words {
		for _, i := range c.start[word] {
			key := c.keys[i]
			if len(key) > len(words)-at || !slices.Equal(key, words[at:at+len(key)]) {
				continue
			}
			if best < 0 || c.long[i] > c.long[best] {
				best = i
			}
		}
	}
	return best
}

// LastPart returns what follows the last "/" or "#" of a text, marks at its
// very end aside: the name by which a URI calls a thing. A text without such
// marks is its own last part.
func LastPart(text string) string {
	text = strings.TrimRightFunc(text, func(r rune) bool { return r == '/' || r == '#' || unicode.IsSpace(r) })
	return strings.TrimSpace(text[strings.LastIndexAny(text, "/#")+1:])
}
