package start

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"likelyground/habitat"
	"likelyground/habitat/look"
	"likelyground/habitat/plan"
	"likelyground/vector/gridref"
)

// placeTable is a table of places as read.
type placeTable struct {
	file   string
	rows   []placeRow
	metres bool    // easting and northing, of a system still to be found
	empty  int     // rows without coordinates
	side   float64 // of the largest square that a grid reference names, metres

	system string // that easting and northing were read in
}

type placeRow struct {
	line  int
	place habitat.Place // CRS "" and metres: still to be found
}

const (
	mostPlaceBytes = 64 << 20
	mostPlaces     = 100_000
)

// Names of columns, as plain tells them.
var (
	lonNames = []string{"lon", "long", "lng", "longitude", "decimallongitude", "longitudedecimal", "lonwgs84", "wgs84lon", "gpslon"}
	latNames = []string{"lat", "latitude", "decimallatitude", "latitudedecimal", "latwgs84", "wgs84lat", "gpslat"}
	eastName = []string{"easting", "eastings", "east", "x", "xcoord", "coordx", "rechtswert", "osx"}
	nortName = []string{"northing", "northings", "north", "y", "ycoord", "coordy", "hochwert", "osy"}
	refNames = []string{"gridref", "gridreference", "reference", "osgr", "osgridref", "osgridreference", "irishgridref", "ref", "ngr", "mgrs", "square", "gridsquare", "place"}
)

// plain keeps the letters and figures of a column's name, small.
func plain(name string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, name)
}

const placeHelp = "begin the table with a line that names its columns: lon,lat in degrees, or easting,northing, or gridref; other columns do no harm"

// readPlaces reads a table of places: with a header, its columns parted by
// commas, semicolons or tabs. With semicolons and tabs numbers may have a
// decimal comma.
func readPlaces(file string) (*placeTable, error) {
	data, err := readSome(file)
	if err != nil {
		return nil, err
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	header, _, _ := bytes.Cut(data, []byte("\n"))
	t := &placeTable{file: file}
	r := csv.NewReader(bytes.NewReader(data))
	r.Comma, r.FieldsPerRecord, r.LazyQuotes, r.TrimLeadingSpace = parter(header), -1, true, true
	names, err := r.Read()
	if err != nil {
		return nil, &Fault{What: file + " holds no places", Fix: placeHelp}
	}
	columns, err := findColumns(file, names)
	if err != nil {
		return nil, err
	}
	for {
		row, err := r.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, &Fault{What: fmt.Sprintf("%s cannot be read: %v", file, err), Fix: "save it as plain text, a line a place", Err: err}
		}
		line, _ := r.FieldPos(0)
		if err := t.add(columns, row, line, r.Comma != ','); err != nil {
			return nil, err
		}
	}
	if len(t.rows) == 0 {
		return nil, &Fault{What: file + " holds no place below its header", Fix: placeHelp}
	}
	return t, nil
}

func readSome(file string) ([]byte, error) {
	info, err := os.Stat(file)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil, &Fault{What: "there is no table of places " + file, Fix: nearFile(file)}
	case err != nil:
		return nil, err
	case !info.Mode().IsRegular():
		return nil, &Fault{What: file + " is no file", Fix: "name a table of places"}
	case info.Size() > mostPlaceBytes:
		return nil, &Fault{What: fmt.Sprintf("%s has %s, too much for a table of places", file, habitat.Bytes(info.Size())), Fix: "keep the columns with the coordinates only"}
	}
	return os.ReadFile(file)
}

// nearFile suggests a file of nearly that name.
func nearFile(file string) string {
	var names []string
	entries, _ := os.ReadDir(filepath.Dir(file))
	for _, e := range entries {
		names = append(names, e.Name())
	}
	if near := plan.Suggest(filepath.Base(file), names); near != "" {
		return "did you mean " + filepath.Join(filepath.Dir(file), near) + "?"
	}
	return "correct the path"
}

// parter is what parts the columns of a header.
func parter(header []byte) rune {
	best, most := ',', bytes.Count(header, []byte(","))
	for _, c := range ";\t" {
		if n := bytes.Count(header, []byte(string(c))); n > most {
			best, most = c, n
		}
	}
	return best
}

// placeColumns are where the coordinates stand; -1 where there are none.
type placeColumns struct {
	x, y, ref int
	degrees   bool
	names     [2]string
}

func findColumns(file string, header []string) (placeColumns, error) {
	find := func(known []string) int {
		return slices.IndexFunc(header, func(h string) bool { return slices.Contains(known, plain(h)) })
	}
	lon, lat, east, north, ref := find(lonNames), find(latNames), find(eastName), find(nortName), find(refNames)
	switch {
	case lon >= 0 && lat >= 0:
		return placeColumns{lon, lat, -1, true, [2]string{header[lon], header[lat]}}, nil
	case east >= 0 && north >= 0:
		return placeColumns{east, north, -1, false, [2]string{header[east], header[north]}}, nil
	case ref >= 0:
		return placeColumns{x: -1, y: -1, ref: ref}, nil
	}
	var shown []string
	for _, h := range header[:min(len(header), 8)] {
		shown = append(shown, fmt.Sprintf("%q", h))
	}
	return placeColumns{}, &Fault{What: fmt.Sprintf("the first line of %s names no columns of places: it has %s", file, strings.Join(shown, ", ")), Fix: placeHelp}
}

// add takes a row of the table.
func (t *placeTable) add(c placeColumns, row []string, line int, comma bool) error {
	if len(t.rows) >= mostPlaces {
		return &Fault{What: fmt.Sprintf("%s has more than %d places", t.file, mostPlaces), Fix: "keep the places that matter"}
	}
	cell := func(i int) string {
		if i < 0 || i >= len(row) {
			return ""
		}
		return strings.TrimSpace(row[i])
	}
	if c.ref >= 0 {
		return t.addReference(cell(c.ref), line)
	}
	a, b := cell(c.x), cell(c.y)
	if a == "" || b == "" {
		t.empty++
		return nil
	}
	x, errX := coordinate(a, comma)
	y, errY := coordinate(b, comma)
	if errX != nil || errY != nil {
		return &Fault{What: fmt.Sprintf("%s, line %d: %q and %q are no coordinates", t.file, line, a, b), Fix: "write plain numbers, such as -3.21 and 54.5"}
	}
	degrees := c.degrees || math.Abs(x) <= 180 && math.Abs(y) <= 90
	if degrees && (math.Abs(x) > 360 || math.Abs(y) > 90) {
		return t.noDegrees(c, line, x, y)
	}
	t.metres = t.metres || !degrees
	t.rows = append(t.rows, placeRow{line, habitat.Place{X: x, Y: y}})
	return nil
}

func (t *placeTable) noDegrees(c placeColumns, line int, x, y float64) error {
	fix := "if they are easting and northing in metres, call the columns so"
	if math.Abs(y) <= 180 && math.Abs(x) <= 90 {
		fix = "the columns look swapped: longitude goes from -180 to 180, latitude from -90 to 90"
	}
	return &Fault{What: fmt.Sprintf("%s, line %d: what stands below %q and %q cannot be degrees of longitude and latitude", t.file, line, c.names[0], c.names[1]), Fix: fix}
}

func (t *placeTable) addReference(text string, line int) error {
	if text == "" {
		t.empty++
		return nil
	}
	p, err := gridref.Parse(text)
	if err != nil {
		fix := "write British, Irish, MGRS or UTM grid references"
		var remedy interface{ Remedy() string }
		if errors.As(err, &remedy) {
			fix = remedy.Remedy()
		}
		return &Fault{What: fmt.Sprintf("%s, line %d: %v", t.file, line, err), Fix: fix, Err: err}
	}
	t.side = max(t.side, p.Size)
	t.rows = append(t.rows, placeRow{line, habitat.Place{CRS: p.CRS, X: p.Easting, Y: p.Northing}})
	return nil
}

func coordinate(text string, comma bool) (float64, error) {
	text = strings.ReplaceAll(text, "\u2212", "-")
	text = strings.TrimRight(text, "° ")
	if comma {
		text = strings.Replace(text, ",", ".", 1)
	}
	x, err := strconv.ParseFloat(text, 64)
	if err == nil && (x-x != 0) {
		err = strconv.ErrRange
	}
	return x, err
}

// on returns the places for the ground chosen. Easting and northing are taken
// in the system, of the grid or of a map, in which most of them lie on it.
func (t *placeTable) on(s *starting) []habitat.Place {
	out := make([]habitat.Place, len(t.rows))
	for i, r := range t.rows {
		out[i] = r.place
	}
	if !t.metres {
		return out
	}
	t.system = s.where.crs
	most := -1
	for _, code := range append([]string{s.where.crs}, codesOf(s.maps)...) {
		b, err := boxIn(s.where.box, s.where.crs, code)
		if err != nil {
			continue
		}
		if n := t.within(b); n > most {
			t.system, most = code, n
		}
	}
	for i := range out {
		out[i].CRS = t.system
	}
	return out
}

func codesOf(maps []*part) []string {
	var out []string
	for _, p := range maps {
		if c := p.boxes[0].CRS; c != nil && c.Code != "" && !c.Geographic {
			out = append(out, c.Code)
		}
	}
	return out
}

func (t *placeTable) within(b look.Box) (n int) {
	for _, r := range t.rows {
		if p := r.place; p.X >= b.West && p.X <= b.East && p.Y >= b.South && p.Y <= b.North {
			n++
		}
	}
	return n
}
