// Package legible makes any text fit to be shown by somebody else's program:
// names from a plan or a map may hold control characters, terminal escapes,
// bytes that are no UTF-8, and marks that turn the direction of writing and
// so make one text look like another.
//
// What is no character to read is left out; a run of white space becomes one
// blank. Escaping for a format (markup, quotes) is left to its writer. Letters
// of any script stay, written from right to left or not: a reader finds the
// direction of a text from its letters (Unicode Standard Annex 9).
package legible

import (
	"strings"
	"unicode"
)

// Line returns a text as one line without blanks at its ends.
func Line(s string) string {
	return strings.Join(strings.Fields(strings.Map(readable, s)), " ")
}

// Text returns a text of several lines, "\n" between them, each as [Line]
// makes it, without empty ones at the ends.
func Text(s string) string {
	s = strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(s)
	lines := strings.Split(s, "\n")
	for i, l := range lines {
		lines[i] = Line(l)
	}
	return strings.Trim(strings.Join(lines, "\n"), "\n")
}

// readable returns a blank for any white space, -1 for what is left out.
func readable(r rune) rune {
	switch {
	case unicode.IsSpace(r):
		return ' '
	case unicode.Is(unicode.Bidi_Control, r), unicode.Is(unicode.Noncharacter_Code_Point, r):
		return -1
	case unicode.Is(unicode.Cf, r) && r != '\u200c' && r != '\u200d': // these join letters of some scripts
		return -1
	case unicode.In(r, unicode.Cc, unicode.Co, unicode.Cs):
		return -1
	}
	return r
}

// Short returns at most n characters of a text; where it is cut the last one
// is an ellipsis.
func Short(s string, n int) string {
	letters := []rune(s)
	if len(letters) <= n {
		return s
	}
	return strings.TrimRight(string(letters[:max(n-1, 0)]), " ") + "…"
}
