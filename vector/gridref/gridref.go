// Package gridref reads and writes grid references: places told by letters
// and digits, as walkers and record cards tell them.
//
// Three systems are known: the letters of the British National Grid
// (TG 51409 13177), of the Irish Grid (O 15904 34671), and the Military Grid
// Reference System with the UTM coordinates beneath it (38S MB 44140 84706,
// or 38N 444140.5 3684706.4). A reference with letters means a square, its
// side 100 km with no digits and 1 m with ten; [Parse] returns the middle of
// the square and its side, in metres of the system's own CRS. Written
// references are cut off, never rounded, so that the square named holds the
// place.
//
// Bringing a place to another CRS is left to raster/crs; nothing here calls
// PROJ. The poles beyond 84° N and 80° S are not covered.
//
// Letters of the British grid: Ordnance Survey, "Using the National Grid";
// of the Irish grid: Ordnance Survey Ireland and Land & Property Services,
// "The Irish Grid"; MGRS: NGA.SIG.0012 (2014), "The Universal Grids".
package gridref

import (
	"fmt"
	"strings"
)

// Place is a place as a reference tells it.
type Place struct {
	Text     string  // the reference in its usual spelling
	System   string  // "British National Grid", "Irish Grid", "MGRS" or "UTM"
	CRS      string  // EPSG code of the CRS of the coordinates
	Easting  float64 // metres; of the middle of the square
	Northing float64
	Size     float64 // side of the square in metres; 0 for a point
}

// Problem is a reference that cannot be read, with what to write instead.
type Problem struct{ What, Fix string }

func (p *Problem) Error() string { return p.What }

// Remedy says what to write instead.
func (p *Problem) Remedy() string { return p.Fix }

// MustChange reports that trying again without a change cannot help.
func (p *Problem) MustChange() bool { return true }

// examples ends every remedy that cannot be more precise.
const examples = "write it like TG 51409 13177 (British), O 15904 34671 (Irish), 38S MB 44140 84706 (MGRS) or 38N 444140 3684706 (UTM)"

func unread(text, why string) error {
	return &Problem{fmt.Sprintf("the grid reference %q cannot be read: %s", text, why), examples}
}

// maxText is longer than any reference.
const maxText = 64

// Parse reads a reference, whatever its case and spaces. Two letters open a
// British one, one letter an Irish one, a number from 1 to 60 one of UTM or
// MGRS. In UTM, N and S after the zone are the hemisphere and every other
// letter is a latitude band. The error is a [*Problem].
func Parse(text string) (Place, error) {
	fields := strings.Fields(strings.ToUpper(strings.ReplaceAll(text, ",", " ")))
	if len(text) > maxText || len(fields) == 0 {
		return Place{}, unread(text, "there is no reference in it")
	}
	joined := strings.Join(fields, " ")
	if isDigit(joined[0]) {
		return parseZoned(text, joined)
	}
	letters, rest := cutWhile(strings.TrimSpace(joined), isLetter)
	if len(letters) == 1 && len(rest) > 1 && rest[0] == ' ' && isLetter(rest[1]) { // "T G 514 131"
		more, after := cutWhile(rest[1:], isLetter)
		letters, rest = letters+more, after
	}
	switch len(letters) {
	case 1:
		return irishGrid.parse(text, letters, rest)
	case 2:
		return britishGrid.parse(text, letters, rest)
	}
	return Place{}, unread(text, "it opens with neither one letter, nor two, nor a zone")
}

func isDigit(c byte) bool  { return c >= '0' && c <= '9' }
func isLetter(c byte) bool { return c >= 'A' && c <= 'Z' }

// cutWhile cuts the leading characters of a kind off a text.
func cutWhile(text string, kind func(byte) bool) (head, tail string) {
	n := 0
	for n < len(text) && kind(text[n]) {
		n++
	}
	return text[:n], text[n:]
}

// square100 is the side of a lettered square in metres.
const square100 = 100_000

// mostDigits is how many digits an axis may have: five tell a metre.
const mostDigits = 5

// within reads the digits behind the letters: the offset in the lettered
// square of the corner of the square told, its side, and the digits of each
// axis.
func within(text, digits string) (east, north, side float64, spelt string, err error) {
	fields := strings.Fields(digits)
	for _, f := range fields {
		if head, _ := cutWhile(f, isDigit); head != f {
			return 0, 0, 0, "", unread(text, fmt.Sprintf("%q is not all digits", f))
		}
	}
	var e, n string
	switch {
	case len(fields) == 1 && len(fields[0])%2 == 0:
		e, n = fields[0][:len(fields[0])/2], fields[0][len(fields[0])/2:]
	case len(fields) == 2 && len(fields[0]) == len(fields[1]):
		e, n = fields[0], fields[1]
	case len(fields) > 0:
		return 0, 0, 0, "", &Problem{fmt.Sprintf("the grid reference %q has not as many digits for the east as for the north", text), "give both halves the same number of digits, such as TG 514 131"}
	}
	if len(e) > mostDigits {
		return 0, 0, 0, "", &Problem{fmt.Sprintf("the grid reference %q has %d digits", text, len(e)+len(n)), "leave the last digits of each half off: five tell a metre"}
	}
	side = square100
	for i := range len(e) {
		side /= 10
		east += side * float64(e[i]-'0')
		north += side * float64(n[i]-'0')
	}
	if e != "" {
		spelt = " " + e + " " + n
	}
	return east, north, side, spelt, nil
}

// digitsOf writes how far a place lies in its lettered square, cut off to a
// number of digits for each axis.
func digitsOf(east, north float64, digits int) string {
	if digits <= 0 {
		return ""
	}
	digits = min(digits, mostDigits)
	cut := 1
	for range mostDigits - digits {
		cut *= 10
	}
	e, n := int(east)%square100/cut, int(north)%square100/cut
	return fmt.Sprintf(" %0*d %0*d", digits, e, digits, n)
}
