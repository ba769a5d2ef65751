package crs

import (
	"fmt"
	"regexp"
	"strings"
	"sync"
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
// kept where it is all that is known. Text that names no place on earth, and
// text that would have PROJ open a file by its path, is answered with a
// [Refusal].
func Describe(text string) (Info, error) {
	if known, ok := described.Load(text); ok {
		return known.(Info), nil
	}
	out, err := describe(text)
	if err == nil {
		described.Store(text, out)
	}
	return out, err
}

// described keeps answers, by the text asked for: to find the code of a CRS
// that does not carry one, PROJ goes through its whole registry.
var described sync.Map

func describe(text string) (Info, error) {
	s, err := newSession()
	if err != nil {
		return Info{}, err
	}
	defer s.close()
	crs, err := s.horizontal(text)
	if err != nil {
		return Info{}, err
	}
	out := crs.info()
	if out.Name == "unknown" {
		out.Name = crs.plainName(text)
	}
	return out, nil
}

// plainName names a CRS that came without a name.
func (o object) plainName(text string) string {
	if entry := o.registered(); entry.name() != "unknown" {
		return entry.name()
	}
	return unwrapped(text)
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
// registry agrees; else the one that PROJ finds under its name; else the only
// one of EPSG that is the same in all but name; "" otherwise.
func (o object) code() string {
	if id := o.id(); id != "" && o.agrees(id) {
		return id
	}
	candidates := o.identified()
	if found := o.agreeing(candidates, 100); len(found) > 0 {
		return found[0]
	}
	if found := o.agreeing(candidates, 70); len(found) == 1 {
		return found[0]
	}
	return ""
}

// agreeing returns the codes of those candidates of at least the given
// confidence that the registry confirms: those of EPSG or, without any, the
// others.
func (o object) agreeing(candidates []candidate, least int) []string {
	var epsg, others []string
	for _, c := range candidates {
		switch {
		case c.confidence < least || !o.agrees(c.id):
		case strings.HasPrefix(c.id, "EPSG:"):
			epsg = append(epsg, c.id)
		default:
			others = append(others, c.id)
		}
	}
	if len(epsg) > 0 {
		return epsg
	}
	return others
}

func (o object) agrees(id string) bool {
	entry, ok := o.s.entry(id)
	return ok && o.same(entry)
}

// entry returns the horizontal CRS that the registry keeps under a code.
func (s *session) entry(id string) (object, bool) {
	authority, code, _ := strings.Cut(id, ":")
	o, ok := s.fromRegistry(authority, code)
	if !ok {
		return object{}, false
	}
	if flat, ok := o.flat(); ok {
		return flat, true
	}
	return o, true
}

// registered returns the registry's own entry for a CRS, which leads to more
// transformations than a definition without code; o itself where there is none.
func (o object) registered() object {
	if id := o.code(); id != "" {
		if entry, ok := o.s.entry(id); ok {
			return entry
		}
	}
	return o
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
	initFile   = regexp.MustCompile(`^([^\[{]*\s)?\+?init=`)
	codeLike   = regexp.MustCompile(`^(?i)[a-z][a-z0-9_]*:`)
	onlyDigits = regexp.MustCompile(`^\d{4,6}$`)
	// GDAL writes what WKT 1 cannot say, such as interrupted projections, as a
	// PROJ string beside it.
	projInWKT = regexp.MustCompile(`EXTENSION\["PROJ4",\s*"([^"]*)"\]`)
	filePath  = regexp.MustCompile(`(?i)((grids|file)=[^\s"]*|PARAMETERFILE\[[^\]]*)[/\\]`)
)

// unwrapped trims text and takes the PROJ string out of WKT that carries one.
func unwrapped(text string) string {
	text = strings.TrimSpace(text)
	if m := projInWKT.FindStringSubmatch(text); m != nil {
		return m[1]
	}
	if m := initCode.FindStringSubmatch(text); m != nil {
		return "EPSG:" + m[1]
	}
	return text
}

// read turns text into a CRS. PROJ strings are taken as CRSs; names count only
// when the registry has exactly that name, letters and digits compared.
func (s *session) read(text string) (object, error) {
	text = unwrapped(text)
	if err := unfit(text); err != nil {
		return object{}, err
	}
	definition := text
	if strings.Contains(text, "proj=") && !strings.ContainsAny(text, "[{") && !strings.Contains(text, "type=crs") {
		definition += " +type=crs"
	}
	o, ok := s.create(definition)
	if !ok || !o.isCRS() {
		return object{}, refuse(remedyCRS, "%s is not a coordinate reference system%s", shorten(text), because(s.trouble()))
	}
	return o, o.checkName(text)
}

// unfit refuses text that PROJ would understand otherwise than meant, or that
// would have it open files.
func unfit(text string) error {
	switch {
	case text == "":
		return refuse(remedyCRS, "no coordinate reference system is given")
	case onlyDigits.MatchString(text):
		return refuse("write EPSG:"+text, "%s is a number, not a coordinate reference system", text)
	case initFile.MatchString(text):
		return refuse(remedyCRS, "%s points at an init file", shorten(text))
	case filePath.MatchString(text):
		return refuse("put the grid file where PROJ looks for them and name it without its folder",
			"%s points at a file", shorten(text))
	case strings.Contains(text, "proj=pipeline"):
		return refuse(remedyCRS, "%s is a transformation, not a coordinate reference system", shorten(text))
	}
	return nil
}

func (o object) checkName(text string) error {
	if codeLike.MatchString(text) || strings.ContainsAny(text, "[{=") || bare(text) == bare(o.name()) {
		return nil
	}
	fix := remedyCRS
	if o.id() != "" && alike(text, o.name()) {
		fix = fmt.Sprintf("write %s if %q is meant", o.id(), o.name())
	}
	return refuse(fix, "no coordinate reference system has the name %s", shorten(text))
}

// alike reports whether two names share a word of at least four letters.
func alike(a, b string) bool {
	words := map[string]bool{}
	for _, w := range strings.Fields(strings.ToLower(a)) {
		words[w] = len(w) >= 4
	}
	for _, w := range strings.Fields(strings.ToLower(b)) {
		if words[w] {
			return true
		}
	}
	return false
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
