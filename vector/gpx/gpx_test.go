package gpx

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode"
)

func Example() {
	f := File{
		Creator: "likelyground", Name: "Ellerdown",
		Waypoints: []Waypoint{{Point: Point{2.5, 52}, Name: "01 0.87 3.2 ha"}},
		Tracks:    []Track{{Name: "01", Segments: [][]Point{{{2.5, 52}, {2.51, 52}, {2.5, 52.01}, {2.5, 52}}}}},
	}
	if err := Write(os.Stdout, f); err != nil {
		fmt.Println(err)
	}
	// Output:
	// <?xml version="1.0" encoding="UTF-8"?>
	// <gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="likelyground">
	// <metadata>
	// <name>Ellerdown</name>
	// <bounds minlat="52" minlon="2.5" maxlat="52.01" maxlon="2.51"/>
	// </metadata>
	// <wpt lat="52" lon="2.5">
	// <name>01 0.87 3.2 ha</name>
	// </wpt>
	// <trk>
	// <name>01</name>
	// <trkseg>
	// <trkpt lat="52" lon="2.5"></trkpt>
	// <trkpt lat="52" lon="2.51"></trkpt>
	// <trkpt lat="52.01" lon="2.5"></trkpt>
	// <trkpt lat="52" lon="2.5"></trkpt>
	// </trkseg>
	// </trk>
	// </gpx>
}

// order is the GPX 1.1 schema as far as it is used here: which elements stand
// within which, and in which order (checks F2; the schema's own sequences,
// from memory). An element that may repeat is marked by *.
var order = map[string][]string{
	"gpx":      {"metadata", "wpt*", "rte*", "trk*", "extensions"},
	"metadata": {"name", "desc", "author", "copyright", "link*", "time", "keywords", "bounds", "extensions"},
	"wpt":      {"ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link*", "sym", "type"},
	"trk":      {"name", "cmt", "desc", "src", "link*", "number", "type", "extensions", "trkseg*"},
	"trkseg":   {"trkpt*", "extensions"},
	"trkpt":    {"ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link*", "sym", "type"},
}

// judge holds a file to the schema.
func judge(data []byte) error {
	d := xml.NewDecoder(bytes.NewReader(data))
	var path []string
	var seen []int // how far each open element has come in its order
	for {
		t, err := d.Token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		switch t := t.(type) {
		case xml.StartElement:
			if err := placed(path, seen, t.Name.Local); err != nil {
				return err
			}
			if err := attributes(t); err != nil {
				return err
			}
			path, seen = append(path, t.Name.Local), append(seen, 0)
		case xml.EndElement:
			path, seen = path[:len(path)-1], seen[:len(seen)-1]
		case xml.CharData:
			if strings.TrimSpace(string(t)) != "" && order[path[len(path)-1]] != nil {
				return fmt.Errorf("text within %s", path)
			}
		}
	}
}

func placed(path []string, seen []int, name string) error {
	if len(path) == 0 {
		if name != "gpx" {
			return fmt.Errorf("the root is %s", name)
		}
		return nil
	}
	allowed := order[path[len(path)-1]]
	for i := seen[len(seen)-1]; i < len(allowed); i++ {
		if allowed[i] == name {
			seen[len(seen)-1] = i + 1
			return nil
		}
		if allowed[i] == name+"*" {
			seen[len(seen)-1] = i
			return nil
		}
	}
	return fmt.Errorf("%s stands out of order in %v", name, path)
}

func attributes(t xml.StartElement) error {
	limits := map[string][2]float64{"lat": {-90, 90}, "minlat": {-90, 90}, "maxlat": {-90, 90}, "lon": {-180, 180}, "minlon": {-180, 180}, "maxlon": {-180, 180}}
	found := 0
	for _, a := range t.Attr {
		l, ok := limits[a.Name.Local]
		if !ok {
			continue
		}
		found++
		v, err := strconv.ParseFloat(a.Value, 64)
		if err != nil || v < l[0] || v > l[1] || l[1] == 180 && v == 180 || strings.ContainsAny(a.Value, "eE") {
			return fmt.Errorf("%s is %s", a.Name.Local, a.Value)
		}
	}
	if want := map[string]int{"wpt": 2, "trkpt": 2, "bounds": 4}[t.Name.Local]; found != want {
		return fmt.Errorf("%s has %d coordinates", t.Name.Local, found)
	}
	if t.Name.Local == "gpx" && !strings.Contains(fmt.Sprint(t.Attr), "version} 1.1} {{ creator} ") {
		return fmt.Errorf("the root says %v", t.Attr)
	}
	return nil
}

// The judge itself must be able to fail: the mistakes of checks F2 and others.
func TestJudge(t *testing.T) {
	head := `<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="x">`
	for _, body := range []string{
		`<wpt lat="1" lon="2"><desc>a</desc><ele>3</ele></wpt>`,
		`<wpt lat="1" lon="180"></wpt>`,
		`<wpt lat="91" lon="0"></wpt>`,
		`<wpt lat="1e-6" lon="0"></wpt>`,
		`<trk></trk><wpt lat="1" lon="2"></wpt>`,
		`<trk><trkseg></trkseg><name>a</name></trk>`,
		`<wpt lat="1"></wpt>`,
		`<metadata><name>a</name><name>b</name></metadata>`,
		`words`,
	} {
		if judge([]byte(head+body+"</gpx>")) == nil {
			t.Errorf("not refused: %s", body)
		}
	}
	if err := judge([]byte(head + `<wpt lat="1" lon="-180"><name>a</name></wpt></gpx>`)); err != nil {
		t.Error(err)
	}
}

// nasty are names that have broken other people's files.
var nasty = []string{
	`<b>&amp; "quotes" 'and' ]]> <!-- --></name>`, "two\nlines\r\nand\ttabs", "a\u202eb\u200fc\u2066", "esc \x1b[31m \x00 \x07", "bad \xff\xfe", "\ufffe\uffff", "=cmd", "", "Ł Ж 木 🍄",
}

func nastyFile() File {
	f := File{Creator: nasty[0], Name: nasty[1], Desc: strings.Join(nasty, "\n")}
	for i, s := range nasty {
		at := Point{float64(i) / 1e7, -float64(i) / 1e7}
		f.Waypoints = append(f.Waypoints, Waypoint{at, s, s, s})
		f.Tracks = append(f.Tracks, Track{s, s, s, [][]Point{{at, {1, 1}, {1, 0}, at}}})
	}
	f.Waypoints = append(f.Waypoints, Waypoint{Point: Point{180, 90}}, Waypoint{Point: Point{-180, -90}}, Waypoint{Point: Point{179.9999999, 0}})
	return f
}

func TestSchema(t *testing.T) {
	for name, f := range map[string]File{"empty": {Creator: "x"}, "nasty": nastyFile()} {
		data := written(t, f)
		if err := judge(data); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		for _, r := range string(data) {
			if r != '\n' && unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) || r == unicode.ReplacementChar && !strings.Contains(name, "nasty") {
				t.Errorf("%s holds %U", name, r)
			}
		}
	}
}

func written(t *testing.T, f File) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, f); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// GDAL's GPX driver reads the names back as they are meant.
func TestGDALReads(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.gpx")
	if err := os.WriteFile(path, written(t, nastyFile()), 0o644); err != nil {
		t.Fatal(err)
	}
	script := `
import sys
from osgeo import gdal, ogr
gdal.UseExceptions()
ds = ogr.Open(sys.argv[1])
print(ds.GetDriver().GetName(), ds.GetLayer("waypoints").GetFeatureCount(), ds.GetLayer("tracks").GetFeatureCount())
for f in ds.GetLayer("waypoints"):
    print(repr(f["name"]), f.GetGeometryRef().ExportToWkt())
`
	out, err := exec.Command("/usr/bin/python3", "-c", script, path).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, want := range []string{
		"GPX 12 9", `<b>&amp; "quotes" \'and\' ]]> <!-- --></name>`, "'two lines and tabs' POINT (0 0)", "'abc'", "'esc [31m'", "'=cmd' POINT (0.000001 -0.000001)", "'Ł Ж 木 🍄'", "POINT (-180 90)", "POINT (-180 0)",
	} {
		if !strings.Contains(string(out), want) {
			t.Errorf("GDAL does not read %s:\n%s", want, out)
		}
	}
}

func TestRefusesNoPlace(t *testing.T) {
	for _, p := range []Point{{math.NaN(), 0}, {0, math.Inf(1)}, {0, 90.1}, {400, 0}} {
		err := Write(io.Discard, File{Creator: "x", Tracks: []Track{{Segments: [][]Point{{p}}}}})
		if err == nil || !strings.Contains(err.Error(), "no place on earth") {
			t.Errorf("%v: %v", p, err)
		}
	}
}

// A square across the antimeridian is drawn on both sides of it, and no line
// goes round the earth.
func TestAntimeridian(t *testing.T) {
	got := cut([]Point{{179, 0}, {-179, 2}, {-179, 4}, {179, 4}, {179, 0}})
	want := [][]Point{{{179, 0}, {last, 1}}, {{-180, 1}, {-179, 2}, {-179, 4}, {-180, 4}}, {{last, 4}, {179, 4}, {179, 0}}}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("%v\nwant %v", got, want)
	}
}

// The example of a line with known distances: D is 5 off the line A-F, and
// C 0.6 or so off A-D.
func TestSimplify(t *testing.T) {
	ring := Ring{{0, 0}, {5, 0.5}, {10, 0}, {10, 10}, {5, 9}, {0, 10}}
	s := Simplify([]Ring{ring}, 0.6, 100)
	if got := fmt.Sprint(s.Kept[0]); got != "[0 2 3 4 5]" {
		t.Errorf("kept %s", got)
	}
	if s.Off != 0.6 {
		t.Errorf("off %v", s.Off)
	}
}

// stair is a ring along the edges of cells round a disc.
func stair(radius int) Ring {
	var right Ring
	for y := -radius; y < radius; y++ {
		x := math.Floor(math.Sqrt(float64(radius*radius - y*y)))
		right = append(right, [2]float64{x, float64(y)}, [2]float64{x, float64(y + 1)})
	}
	ring := slices.Clone(right)
	for i := len(right) - 1; i >= 0; i-- {
		ring = append(ring, [2]float64{-right[i][0], right[i][1]})
	}
	return ring
}

// No point lies further from the drawn ring than is said, and few points stay.
func TestSimplifyHolds(t *testing.T) {
	for _, radius := range []int{1, 2, 10, 50, 300} {
		for _, most := range []int{8, 40, 1000} {
			ring := stair(radius)
			s := Simplify([]Ring{ring}, 1, most)
			kept := s.Kept[0]
			if len(kept) < 3 || len(kept) > most {
				t.Errorf("radius %d: %d of %d points stay, at most %d should", radius, len(kept), len(ring), most)
			}
			for _, p := range ring {
				if d := distance(p, ring, kept); d > s.Off+1e-9 {
					t.Fatalf("radius %d, most %d: a point lies %v off, %v is said", radius, most, d, s.Off)
				}
			}
		}
	}
}

// Teeth alike, so many that stretches are halved in the middle.
func TestSimplifyTeeth(t *testing.T) {
	var ring Ring
	for i := range 2000 {
		ring = append(ring, [2]float64{float64(10 * i), 0}, [2]float64{float64(10 * i), 50 * float64(i%2)})
	}
	for _, tolerance := range []float64{3, 20, 49, 70} {
		s := Simplify([]Ring{ring}, tolerance, len(ring))
		if tolerance == 3 && len(s.Kept[0]) == len(ring) {
			t.Error("nothing goes")
		}
		for i, p := range ring {
			if i%37 == 0 && distance(p, ring, s.Kept[0]) > s.Off+1e-9 {
				t.Fatalf("tolerance %v: point %d lies further off", tolerance, i)
			}
		}
	}
}

func distance(p [2]float64, ring Ring, kept []int) float64 {
	best := math.Inf(1)
	for i, k := range kept {
		best = min(best, fromLine(p, ring[k], ring[kept[(i+1)%len(kept)]]))
	}
	return math.Sqrt(best)
}

// Small parts and holes go; the first ring stays, however small.
func TestSimplifySmall(t *testing.T) {
	cell := Ring{{0, 0}, {10, 0}, {10, 10}, {0, 10}}
	s := Simplify([]Ring{cell, cell, stair(100)}, 10, 1000)
	if len(s.Kept[0]) != 4 || s.Kept[1] != nil || len(s.Kept[2]) < 4 {
		t.Errorf("%v", s.Kept)
	}
	if s := Simplify([]Ring{{{0, 0}, {1, 0}}, nil}, 1, 10); len(s.Kept[0]) != 2 {
		t.Errorf("of two points: %v", s.Kept)
	}
	if s := Simplify(nil, 1, 10); len(s.Kept) != 0 {
		t.Errorf("of nothing: %v", s.Kept)
	}
}
