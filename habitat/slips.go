package habitat

import (
	"slices"
	"strings"
	"unicode/utf8"

	"likelyground/habitat/match"
	"likelyground/habitat/plan"
)

// slip returns the class of a map, or the words in one, that a class of the
// plan is most likely meant to be: a slip of a key or two away, and not named
// beside it itself.
func (c *classes) slip(class plan.Class, beside []plan.Class) string {
	switch class.Match {
	case plan.Contains:
		return c.wordSlip(class, beside)
	case plan.LastPart:
		return nearest(match.LastPart(class.Name), c.lastParts(), func(part string) bool {
			return slices.ContainsFunc(beside, func(k plan.Class) bool { return match.LastPart(k.Name) == part })
		})
	}
	return nearest(class.Name, c.texts, func(text string) bool {
		return slices.ContainsFunc(beside, func(k plan.Class) bool { return k.Name == text })
	})
}

// nearest returns the text that a word is a slip of: the one with the fewest
// edits between, at most one in five letters; the first of several.
func nearest(word string, known []string, named func(string) bool) string {
	best, fewest := "", max(1, utf8.RuneCountInString(word)/5)+1
	for _, text := range known {
		if n := plan.Misspelling(word, text); n >= 0 && n < fewest && !named(text) {
			best, fewest = text, n
		}
	}
	return best
}

func (c *classes) lastParts() []string {
	var out []string
	for _, text := range c.texts {
		out = append(out, match.LastPart(text))
	}
	return out
}

// leastSlip is the length in letters from which on one edit makes a slip of
// words in a text: of shorter words many are one edit apart (sand, and).
const leastSlip = 5

// wordSlip looks for as many words in a row as the class has, in any text.
func (c *classes) wordSlip(class plan.Class, beside []plan.Class) string {
	key := match.Key(class.Name)
	if utf8.RuneCountInString(key) < leastSlip {
		return ""
	}
	named := map[string]bool{}
	for _, k := range beside {
		named[match.Key(k.Name)] = true
	}
	n := len(match.Words(key))
	seen := map[string]bool{}
	var known []string
	for _, text := range c.texts {
		words := match.Words(text)
		for i := 0; i+n <= len(words); i++ {
			if w := strings.Join(words[i:i+n], " "); !seen[w] {
				seen[w] = true
				known = append(known, w)
			}
		}
	}
	return nearest(key, known, func(w string) bool { return named[w] })
}
