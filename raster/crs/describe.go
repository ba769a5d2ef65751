package crs

import (
	"fmt"
	"regexp"
	"strings"
	"unicode"
)

// Info describes the horizontal part of a coordinate reference system.
type Info struct {
	Name          string
	ID            string  // authority and code, EPSG:25831; "" where the registry has none
	WKT           string  // WKT 2 (ISO 19162:2019) on one line
	Geographic    bool    // longitude and latitude, not a plane
	MetresPerUnit float64 // size of the axis unit; 0 for geographic
}

// Describe reads a CRS: a code (EPSG:25831, ESRI:54052, OGC:CRS84), URN, OGC
// web address, WKT 1 or 2, PROJ string or the exact name of a registry entry.
//
// Compound and three-dimensional CRSs are reduced to their horizontal part. A
// shift to WGS 84 that is tied to the CRS (TOWGS84 in WKT, +towgs84) is
// dropped where the registry knows the CRS, and with it better ways; it is
// kept where it is all that is known. Text that names no place on earth is
// answered with a [Refusal].
func Describe(text string) (Info, error) {
	s, err := newSession()
	if err != nil {
		return Info{}, err
	}
	defer s.close()
	crs, err := s.horizontal(text)
	if err != nil {
		return Info{}, err
	}
	return crs.info(), nil
}

// Same reports whether two CRSs give the same place the same coordinates, in
// this package's axis order: names, codes and axis order do not count, datum,
// projection and units do. EPSG:4326 and OGC:CRS84 are the same.
func Same(a, b string) (bool, error) {
	s, err := newSession()
	if err != nil {
		return false, err
	}
	defer s.close()
	p, err := s.horizontal(a)
	if err != nil {
		return false, err
	}
	q, err := s.horizontal(b)
	if err != nil {
		return false, err
	}
	return p.same(q), nil
}

func (o object) same(p object) bool {
	if o.equivalent(p) {
		return true
	}
	a, okA := o.normalised()
	b, okB := p.normalised()
	return okA && okB && a.equivalent(b)
}

func (o object) info() Info {
	out := Info{Name: o.name(), ID: o.code(), WKT: o.wkt()}
	core := o
	if o.kind() == kindBound {
		if b, ok := o.bound(); ok {
			core = b
			out.Name = b.name()
		}
	}
	out.Geographic = core.kind() == kindGeographic
	if _, unit := core.axes(); !out.Geographic {
		out.MetresPerUnit = unit
	}
	return out
}

// code returns the registry's code of a CRS: the one it carries, if the
// registry agrees, or the one that PROJ finds beyond doubt; "" otherwise.
func (o object) code() string {
	if id := o.id(); id != "" && o.agrees(id) {
		return id
	}
	first := ""
	for _, id := range o.identified() {
		if !o.agrees(id) {
			continue
		}
		if strings.HasPrefix(id, "EPSG:") {
			return id
		}
		if first == "" {
			first = id
		}
	}
	return first
}

func (o object) agrees(id string) bool {
	authority, code, _ := strings.Cut(id, ":")
	entry, ok := o.s.fromRegistry(authority, code)
	if !ok {
		return false
	}
	if flat, ok := entry.flat(); ok {
		entry = flat
	}
	return o.same(entry)
}

// horizontal reads a CRS and reduces it to its horizontal part.
func (s *session) horizontal(text string) (object, error) {
	o, err := s.read(text)
	if err != nil {
		return object{}, err
	}
	return o.reduce(text)
}

func (o object) reduce(text string) (object, error) {
	switch o.kind() {
	case kindCompound:
		if part, ok := o.part(0); ok {
			return part.reduce(text)
		}
	case kindBound:
		if core, ok := o.bound(); ok {
			return o.reduceBound(core, text)
		}
	case kindGeocentric:
		return object{}, notFlat(text, "counts from the centre of the earth")
	case kindVertical:
		return object{}, notFlat(text, "gives heights only")
	case kindLocal:
		return object{}, notFlat(text, "is a local drawing plane without a place on earth")
	}
	return o.flatten(text)
}

func (o object) reduceBound(core object, text string) (object, error) {
	flat, err := core.reduce(text)
	if err != nil {
		return object{}, err
	}
	if core.kind() == kindCompound || flat.code() != "" {
		return flat, nil
	}
	return o, nil
}

func (o object) flatten(text string) (object, error) {
	count, _ := o.axes()
	if count == 3 {
		if flat, ok := o.flat(); ok {
			return flat, nil
		}
	}
	if count != 2 {
		return object{}, notFlat(text, "has no two horizontal axes")
	}
	return o, nil
}

func notFlat(text, why string) error {
	return refuse(remedyCRS, "the coordinate reference system %s %s", shorten(text), why)
}

const remedyCRS = "give a geographic or projected CRS by code, such as EPSG:25831, or as WKT"

var (
	initCode   = regexp.MustCompile(`(?i)^\+init=epsg:(\d+)(\s+\+type=crs)?$`)
	codeLike   = regexp.MustCompile(`^(?i)[a-z][a-z0-9_]*:`)
	onlyDigits = regexp.MustCompile(`^\d{4,6}$`)
)

// read turns text into a CRS. PROJ strings are taken as CRSs; names count only
// when the registry has exactly that name, letters and digits compared.
func (s *session) read(text string) (object, error) {
	text = strings.TrimSpace(text)
	if m := initCode.FindStringSubmatch(text); m != nil {
		text = "EPSG:" + m[1]
	}
	switch {
	case text == "":
		return object{}, refuse(remedyCRS, "no coordinate reference system is given")
	case onlyDigits.MatchString(text):
		return object{}, refuse("write EPSG:"+text, "%s is a number, not a coordinate reference system", text)
	case strings.Contains(text, "+init="):
		return object{}, refuse(remedyCRS, "%s points at an init file", shorten(text))
	case strings.Contains(text, "proj=") && !strings.Contains(text, "type=crs"):
		text += " +type=crs"
	}
	o, ok := s.create(text)
	if !ok || !o.isCRS() {
		return object{}, refuse(remedyCRS, "%s is not a coordinate reference system%s", shorten(text), because(s.trouble()))
	}
	return o, o.checkName(text)
}

func (o object) checkName(text string) error {
	if codeLike.MatchString(text) || strings.ContainsAny(text, "[{=") || bare(text) == bare(o.name()) {
		return nil
	}
	return refuse(fmt.Sprintf("write %s (%s) if that is meant", o.id(), o.name()),
		"no coordinate reference system has the name %q", text)
}

// bare returns the letters and digits of a name in lower case.
func bare(name string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, name)
}

func because(trouble string) string {
	if trouble == "" {
		return ""
	}
	return " (PROJ: " + trouble + ")"
}

// shorten quotes text, cut to a length that can be read in a message.
func shorten(text string) string {
	const most = 60
	runes := []rune(strings.TrimSpace(text))
	if len(runes) > most {
		return fmt.Sprintf("%q…", string(runes[:most]))
	}
	return fmt.Sprintf("%q", string(runes))
}
