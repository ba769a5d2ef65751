package legends

import (
	"fmt"
	"slices"
	"strings"

	"likelyground/habitat/match"
)

// signs are what a map of the product is known by.
type signs struct {
	words   []string // of the file's name, each one word or several in a row
	fields  []string // first word of the field
	crs     string   // "" where it comes in several
	cell    float64  // side of a cell in units of that CRS; 0 where it has none
	telling int32    // four of its codes from this one on, or four of its texts, are hardly met by chance; 0: they are
}

// Seen is what is known of a map before anybody said what it is.
type Seen struct {
	File  string   // its name
	Field string   // of a map of features
	CRS   string   // "EPSG:3035"; "" where not known
	Cell  float64  // side of a cell in units of the CRS; 0 where there is none
	Codes []int32  // all that were found, nodata of the file aside
	Texts []string // of a text field
	Whole bool     // all numbers are whole
}

// Guess is a legend that would fit a map.
type Guess struct {
	*Legend
	Why string // in words
}

// Recognise returns the legend that a map most likely has, and why; nil where
// none fits or several do. All codes or texts found must be the legend's own.
// Beyond that it takes the product's name in the file's name; or its CRS and
// cell with at least three classes; or four classes of codes that are hardly
// met by chance. The thresholds are common practice, no source.
func Recognise(s Seen) *Guess {
	var named, other []Guess
	for _, l := range all() {
		why, byName := l.fits(s)
		switch {
		case why == "":
		case byName:
			named = append(named, Guess{l, why})
		default:
			other = append(other, Guess{l, why})
		}
	}
	if len(named) > 0 {
		return longest(named, s.File)
	}
	if len(other) == 1 {
		return &other[0]
	}
	return nil
}

// longest returns the guess whose words in the file's name say most.
func longest(all []Guess, file string) *Guess {
	best, most := 0, 0
	for i, g := range all {
		if n := len(g.nameIn(file)); n > most {
			best, most = i, n
		}
	}
	return &all[best]
}

// nameIn returns the product's name as a file's name has it; the longest.
func (l *Legend) nameIn(file string) string {
	at := match.NewContains(l.signs.words).Find(file)
	if at < 0 {
		return ""
	}
	return l.signs.words[at]
}

// fits says in words why the legend would fit; "" where it would not.
func (l *Legend) fits(s Seen) (why string, byName bool) {
	found, all := l.count(s)
	if !all || l.Kind != Amounts && found == 0 {
		return "", false
	}
	var reasons []string
	if name := l.nameIn(s.File); name != "" {
		reasons, byName = append(reasons, fmt.Sprintf("the file's name speaks of %q", name)), true
	}
	lies := l.signs.crs != "" && s.CRS == l.signs.crs && (l.signs.cell == 0 || near(s.Cell, l.signs.cell))
	if lies {
		reasons = append(reasons, "it lies as that product does ("+l.lies()+")")
	}
	field := s.Field != "" && len(match.Words(s.Field)) > 0 && slices.Contains(l.signs.fields, match.Words(s.Field)[0])
	if field {
		reasons = append(reasons, fmt.Sprintf("the field %q is called so there", s.Field))
	}
	enough := byName || (lies || field) && found >= 3 || l.telling(s.Codes) && found >= 4
	if !enough || l.Kind == Amounts && !byName {
		return "", false
	}
	if l.Kind != Amounts {
		reasons = append([]string{l.foundWords(found)}, reasons...)
	} else {
		reasons = append([]string{"its numbers are percent, or 254 and 255"}, reasons...)
	}
	return strings.Join(reasons, ", "), byName
}

func (l *Legend) foundWords(found int) string {
	what := "codes"
	if l.Kind == Texts {
		what = "texts"
	}
	if found == 1 {
		return "the one class found is its own"
	}
	return fmt.Sprintf("all %s found are its own, %d of its classes", what, found)
}

func (l *Legend) lies() string {
	if l.signs.cell == 0 {
		return l.signs.crs
	}
	if l.signs.cell < 1 {
		return fmt.Sprintf("%s, cells of 1/%.0f of a degree", l.signs.crs, 1/l.signs.cell)
	}
	return fmt.Sprintf("%s, cells of %g m", l.signs.crs, l.signs.cell)
}

// telling reports whether codes are of those that are hardly met by chance.
// Tens, say, are codes of several makers, who mean different things by them.
func (l *Legend) telling(codes []int32) bool {
	return l.signs.telling > 0 && !slices.ContainsFunc(codes, func(c int32) bool {
		_, noData := l.Has(c)
		return !noData && c < l.signs.telling
	})
}

func near(a, b float64) bool { return a > 0.9*b && a < 1.1*b }

// count returns how many classes were found, and whether nothing else was.
func (l *Legend) count(s Seen) (classes int, all bool) {
	if l.Kind == Texts {
		return l.countTexts(s)
	}
	if len(s.Codes) == 0 || !s.Whole {
		return 0, false
	}
	names := map[string]bool{}
	for _, code := range s.Codes {
		is, noData := l.Has(code)
		if l.Kind == Amounts {
			is = is || code >= 0 && code <= 100
		}
		if !is {
			return 0, false
		}
		if !noData {
			names[l.nameOf(code)] = true
		}
	}
	return len(names), true
}

func (l *Legend) nameOf(code int32) string {
	for _, c := range l.Classes {
		if c.Text == "" && c.Code == code {
			return c.Name
		}
	}
	return ""
}

// countTexts lets a tenth of the texts of a vocabulary be unknown, as its
// terms here are not all.
func (l *Legend) countTexts(s Seen) (classes int, all bool) {
	names, odd := map[string]bool{}, 0
	for _, text := range s.Texts {
		switch at := l.ClassOf(text); {
		case l.NoData(text):
		case at < 0:
			odd++
		default:
			names[l.Classes[at].Name] = true
		}
	}
	return len(names), len(s.Texts) > 0 && 10*odd <= len(s.Texts)
}
