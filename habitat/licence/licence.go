// Package licence reads the names of licences as people write them, tells
// what each asks of who passes on something made from a map, and sums up what
// several maps ask together.
//
// It knows the licences that open maps come under, by the identifiers of the
// SPDX licence list and by common spellings and addresses; what they ask is
// told after their deeds and texts (Creative Commons 3.0 and 4.0, Open Data
// Commons, the UK Open Government Licence, dl-de, Licence Ouverte; from
// memory). Of a licence it does not know, and of none, it says so: what is not
// stated is not allowed. Everything rests on what the plan states and is no
// legal advice. Nothing is read, fetched or written here.
package licence

import (
	"regexp"
	"strings"
)

// Duties are what a licence asks of who passes on something that was made
// from a map.
type Duties struct {
	Credit        bool // name who made the map
	SayModified   bool // say that the map was changed
	ShareAlike    bool // under the same licence
	NonCommercial bool // not for money
	NotShared     bool // what was made from it is not passed on
}

// Licence is a licence by its name.
type Licence struct {
	Name   string // SPDX identifier or other short name; as written where it is not known; "" where none is stated
	Known  bool   // what it asks is known
	Family string // of share-alike licences: those that can be joined, such as "CC-BY-SA"
	Duties
}

// Strictness orders licences by what they leave to do: one that asks more
// comes later.
type Strictness int

// The steps, from the freest.
const (
	Free Strictness = iota
	Credited
	Modified // credited, and said that it was changed
	Alike
	NotForMoney
	NotForMoneyAlike
	NotStated // so not allowed, as far as is known
	Kept      // not passed on
)

// Strictness returns the step of a licence.
func (l Licence) Strictness() Strictness {
	switch {
	case l.NotShared:
		return Kept
	case !l.Known:
		return NotStated
	case l.NonCommercial && l.ShareAlike:
		return NotForMoneyAlike
	case l.NonCommercial:
		return NotForMoney
	case l.ShareAlike:
		return Alike
	case l.SayModified:
		return Modified
	case l.Credit:
		return Credited
	}
	return Free
}

// Read returns the licence that a text names, whatever its spelling: an SPDX
// identifier, a name in words or the address of the licence. "", "unknown",
// "not given" and the like are none.
func Read(text string) Licence {
	key := plain(text)
	if none[key] {
		return Licence{}
	}
	if l, ok := common(key); ok {
		return l
	}
	if l, ok := others[key]; ok {
		l.Known = true
		return l
	}
	return Licence{Name: strings.TrimSpace(text)}
}

// none are texts, made plain, that state no licence.
var none = map[string]bool{"": true, "unknown": true, "none": true, "none given": true, "not given": true, "not known": true, "not stated": true, "?": true, "tbd": true, "see website": true}

// longWords are written the short way, the longest first.
var longWords = strings.NewReplacer(
	"creative commons", "cc", "creativecommons", "cc", "attribution", "by", "non commercial", "nc", "noncommercial", "nc",
	"share alike", "sa", "sharealike", "sa", "no derivatives", "nd", "noderivatives", "nd", "noderivs", "nd", "no derivs", "nd",
	"open data commons", "odc", "opendatacommons", "odc", "open database", "odbl", "open government", "ogl", "data licence germany", "dl de",
	"datenlizenz deutschland", "dl de", "namensnennung", "by", "licence ouverte", "etalab", "license ouverte", "etalab", "publicdomain", "public domain",
)

// idle are words that tell no licence from another.
var idle = map[string]bool{"the": true, "licence": true, "license": true, "licenses": true, "licences": true, "international": true, "intl": true, "unported": true,
	"generic": true, "version": true, "v": true, "http": true, "https": true, "www": true, "org": true, "doc": true, "deed": true, "legalcode": true, "en": true, "of": true, "html": true}

var (
	dots     = regexp.MustCompile(`\.([^0-9]|$)`)
	stuck    = regexp.MustCompile(`([a-z])v([0-9])`) // as in OGLv3
	apart    = regexp.MustCompile(`[^a-z0-9.?]+`)
	versions = regexp.MustCompile(`\b(?:v|version )?([0-9])(?:[. ]([0-9]))?(?:[. ]0)?\b`)
)

// plain writes a name in one way: small letters, short words, versions such
// as 4.0, one blank between.
func plain(text string) string {
	s := strings.ToLower(text)
	s = strings.NewReplacer("nationalarchives.gov.uk", "", "creativecommons.org", "cc", "opendatacommons.org", "odc", "govdata.de", "", "opendefinition.org", "").Replace(s)
	s = stuck.ReplaceAllString(dots.ReplaceAllString(s, " $1"), "$1 v$2")
	s = strings.TrimSpace(apart.ReplaceAllString(s, " "))
	s = longWords.Replace(s)
	var words []string
	for _, w := range strings.Fields(s) {
		if w = strings.Trim(w, "."); w != "" && !idle[w] {
			words = append(words, w)
		}
	}
	s = versions.ReplaceAllStringFunc(strings.Join(words, " "), func(v string) string {
		m := versions.FindStringSubmatch(v)
		if m[2] == "" {
			m[2] = "0"
		}
		return m[1] + "." + m[2]
	})
	return s
}

// commonForm is a Creative Commons licence, made plain: its elements in any
// usual order, a version, a country.
var commonForm = regexp.MustCompile(`^(?:cc )?by( nc)?( sa| nd)?( nc)?(?: ([1-4]\.[05]))?(?: [a-z]{2,3})?$`)

// common reads the licences of Creative Commons that give credit. Their texts
// ask to tell of changes from version 4.0 on in every one, before in most.
func common(key string) (Licence, bool) {
	m := commonForm.FindStringSubmatch(key)
	if m == nil || !strings.HasPrefix(key, "cc ") && key == "by" {
		return Licence{}, false
	}
	l := Licence{Name: "CC-BY", Known: true, Duties: Duties{Credit: true, SayModified: true}}
	if m[1] != "" || m[3] != "" {
		l.Name, l.NonCommercial = l.Name+"-NC", true
	}
	switch m[2] {
	case " sa":
		l.Name, l.ShareAlike = l.Name+"-SA", true
		l.Family = l.Name
	case " nd": // changed works are not passed on, and an output is one
		l.Name, l.NotShared = l.Name+"-ND", true
	}
	if m[4] != "" {
		l.Name += "-" + m[4]
	}
	return l, true
}
