// Package legends holds the legends of open maps: which class each of their
// published codes is, how the classes are grouped, which codes mean that there
// is no data, and whom to name.
//
// A legend is a table in the folder data, embedded into the program. Its column
// "known from" says how each line is known: "public list" and "third-party
// notes" were read there, "memory" was not checked against anything. Class
// names are in the publisher's words where those are known, else from memory;
// groups are the publisher's levels except where the legend's Note calls them
// ours. Whether a map is of a certain product is left to the user of this
// package: [Recognise] tells which legends would fit, and why.
//
// Codes have no unit; a code that means no data is in Missing and in no class.
package legends

import (
	"cmp"
	"embed"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode"

	"likelyground/habitat/match"
)

// Kind is what the values of a map are that has the legend.
type Kind string

// The kinds.
const (
	Codes   Kind = "codes"   // whole numbers
	Texts   Kind = "texts"   // a field of text
	Amounts Kind = "amounts" // measured values; the legend knows special codes among them
)

// Legend is the legend of one product, or of a family with the same codes.
type Legend struct {
	Name      string // by which a plan calls it
	Title     string
	Publisher string
	Source    string // where the codes are published
	Edition   string
	Licence   string // of the maps, "" where it is for their maker to say
	Credit    string // the line asked for; {year} stands for the year of the map
	Note      string // what to know of it
	Kind      Kind
	Unit      string  // of Amounts, as a plan writes it
	Classes   []Class // in the order of codes, or of the vocabulary
	Missing   []Special

	signs signs
	byKey map[string]int // of Texts: place in Classes by plain text
}

// Class is one class: Code of Codes, Text of Texts. Several codes may be the
// same class; they then have one name.
type Class struct {
	Code   int32
	Text   string
	Name   string
	Groups []Group // the narrowest first
}

// Group is something wider that a class belongs to, Up steps above it.
type Group struct {
	Name string
	Up   int
}

// Special is a code, or a text, that means that there is no data.
type Special struct {
	Code int32
	Text string
	Name string
}

// All returns every legend, in order of names.
func All() []*Legend { return slices.Clone(all()) }

var all = sync.OnceValue(func() []*Legend {
	out := make([]*Legend, len(table))
	for i := range table {
		out[i] = &table[i]
		out[i].load()
	}
	slices.SortFunc(out, func(a, b *Legend) int { return cmp.Compare(a.Name, b.Name) })
	return out
})

// Names returns the names of all legends, sorted.
func Names() []string {
	var out []string
	for _, l := range all() {
		out = append(out, l.Name)
	}
	return out
}

// Named returns the legend of a name; nil where there is none.
func Named(name string) *Legend {
	for _, l := range all() {
		if l.Name == name {
			return l
		}
	}
	return nil
}

// CreditOf returns the credit line for a map of a year; 0 is a year that is
// not known.
func (l *Legend) CreditOf(year int) string {
	text := ""
	if year != 0 {
		text = strconv.Itoa(year)
	}
	line := strings.ReplaceAll(l.Credit, "{year}", text)
	line = strings.NewReplacer(" ()", "", "(, ", "(").Replace(line)
	return strings.Join(strings.Fields(strings.NewReplacer(" ,", ",", " /", " /").Replace(line)), " ")
}

// ClassOf returns the place, in Classes, of what a text field holds: the text
// itself, or the last part of an address, whatever its case and its marks
// ("acidicIgneousRock" is "acidic_igneous_rock"). -1 where there is none.
func (l *Legend) ClassOf(text string) int {
	for _, form := range []string{text, match.LastPart(text)} {
		if at, ok := l.byKey[plain(form)]; ok {
			return at
		}
	}
	return -1
}

// NoData reports whether a text of a field means that there is no data.
func (l *Legend) NoData(text string) bool {
	return slices.ContainsFunc(l.Missing, func(s Special) bool { return s.Text != "" && plain(s.Text) == plain(match.LastPart(text)) })
}

// Has reports whether a code is one of the legend's; noData, that it means no
// data.
func (l *Legend) Has(code int32) (is, noData bool) {
	if slices.ContainsFunc(l.Missing, func(s Special) bool { return s.Text == "" && s.Code == code }) {
		return true, true
	}
	return slices.ContainsFunc(l.Classes, func(c Class) bool { return c.Text == "" && c.Code == code }), false
}

// Same reports whether two names are one, whatever their case, blanks and
// marks: people copy class names from pages that write them in many ways.
func Same(a, b string) bool { return match.Key(a) == match.Key(b) }

// plain is a text without anything but letters and digits, in one case.
func plain(text string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return r
		}
		return -1
	}, strings.Join(match.Words(text), ""))
}

//go:embed data/*.csv
var data embed.FS

// load reads the table of a legend. Tables are part of the program: one that
// does not read is a mistake of its makers, found by the tests.
func (l *Legend) load() {
	name := "data/" + strings.ReplaceAll(l.Name, " ", "_") + ".csv"
	f, err := data.Open(name)
	if err != nil {
		panic(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		panic(fmt.Sprintf("%s: %v", name, err))
	}
	parents := map[string][]string{}
	for _, row := range rows[1:] {
		r := record{rows[0], row}
		if r.get("parents") != "" {
			parents[r.get("text")] = strings.Fields(r.get("parents"))
		}
		l.take(r)
	}
	l.wider(parents)
	l.byKey = map[string]int{}
	for i, c := range l.Classes {
		if c.Text != "" {
			l.byKey[plain(c.Text)] = i
		}
	}
}

// record is a row with its header.
type record struct{ header, row []string }

func (r record) get(column string) string {
	if at := slices.Index(r.header, column); at >= 0 {
		return r.row[at]
	}
	return ""
}

// take takes in one row.
func (l *Legend) take(r record) {
	code := int64(0)
	if text := r.get("code"); text != "" {
		var err error
		if code, err = strconv.ParseInt(text, 10, 32); err != nil {
			panic(fmt.Sprintf("the legend %s: %v", l.Name, err))
		}
	}
	if r.get("means") == "no data" {
		l.Missing = append(l.Missing, Special{int32(code), r.get("text"), r.get("name")})
		return
	}
	c := Class{Code: int32(code), Text: r.get("text"), Name: r.get("name")}
	for _, column := range []string{"group", "group 2", "group 1"} {
		if g := r.get(column); g != "" {
			c.Groups = append(c.Groups, Group{g, len(c.Groups) + 1})
		}
	}
	l.Classes = append(l.Classes, c)
}

// wider gives each class of a vocabulary the names of all that is wider, by
// its parents: the nearest first, then in order of names.
func (l *Legend) wider(parents map[string][]string) {
	name := map[string]string{}
	for _, c := range l.Classes {
		name[c.Text] = c.Name
	}
	for i := range l.Classes {
		c := &l.Classes[i]
		seen := map[string]bool{}
		for up, next := 1, parents[c.Text]; len(next) > 0; up++ {
			var above []string
			slices.Sort(next)
			for _, p := range next {
				if !seen[p] {
					seen[p] = true
					c.Groups = append(c.Groups, Group{name[p], up})
					above = append(above, parents[p]...)
				}
			}
			next = above
		}
	}
}
